/* SPDX-License-Identifier: Apache-2.0 */
/* A plugin that is a shared library: a measure, a driver and a transport. What the driver and the transport reach is
 * made up here, so that the example runs without hardware: a meter whose range and aperture can be set and which always
 * reads 1.25 V, and an instrument that knows one query. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "instruments/plugin/eyelevel_plugin.h"

/* ---- what is asked, by key ---- */

static const eyelevel_given* given(const eyelevel_question* question, const char* key) {
  for (uint32_t i = 0; i < question->given_count; ++i)
    if (strcmp(question->given[i]->key, key) == 0) return question->given[i];
  return NULL;
}

static int32_t failed(eyelevel_answer* answer, const char* message) {
  snprintf(answer->message, sizeof answer->message, "%s", message);
  return EYELEVEL_FAILED;
}

static void give(eyelevel_answer* answer, double value, const char* unit, double standard_uncertainty, int64_t count) {
  answer->has_reading = 1;
  answer->reading.value = value;
  snprintf(answer->reading.unit, sizeof answer->reading.unit, "%s", unit);
  answer->reading.standard_uncertainty = standard_uncertainty;
  answer->reading.count = count;
}

/* ---- the measure: of the first edge from 10 % to 90 % between the mean of what lies below the middle and the mean of
 * what lies above ---- */

struct levels {
  double low, high;
};

static struct levels levels_of(const eyelevel_waveform* w) {
  double least = w->volts[0], most = w->volts[0];
  for (uint64_t i = 1; i < w->samples; ++i) {
    if (w->volts[i] < least) least = w->volts[i];
    if (w->volts[i] > most) most = w->volts[i];
  }
  double sum[2] = {0, 0};
  uint64_t count[2] = {0, 0};
  for (uint64_t i = 0; i < w->samples; ++i) {
    const int is_high = w->volts[i] > (least + most) / 2;
    sum[is_high] += w->volts[i];
    ++count[is_high];
  }
  const struct levels levels = {count[0] ? sum[0] / (double)count[0] : 0, count[1] ? sum[1] / (double)count[1] : 0};
  return levels;
}

/* Place in samples, from `begin` on, where the record rises through a level between two of them; negative when it does
 * not. */
static double crossing(const eyelevel_waveform* w, double begin, double level) {
  for (uint64_t i = (uint64_t)begin + 1; i < w->samples; ++i)
    if (w->volts[i - 1] < level && w->volts[i] >= level)
      return (double)(i - 1) + (level - w->volts[i - 1]) / ((double)w->volts[i] - w->volts[i - 1]);
  return -1;
}

static int32_t rise_time(const eyelevel_question* question, eyelevel_answer* answer) {
  const eyelevel_given* of = given(question, "of");
  if (!of || of->type != EYELEVEL_WAVEFORM) return failed(answer, "a waveform is needed");
  const eyelevel_waveform* w = of->waveform;
  if (w->samples < 3) return failed(answer, "a waveform of three samples or more is needed");
  const struct levels levels = levels_of(w);
  const double step = levels.high - levels.low, noise = w->noise_v / sqrt((double)w->count);
  if (!(step > 10 * noise) || !(step > 0)) return failed(answer, "there is no edge that stands out of the noise");
  const double from = crossing(w, 0, levels.low + 0.1 * step);
  const double until = from < 0 ? -1 : crossing(w, from, levels.low + 0.9 * step);
  if (until < 0) return failed(answer, "no edge rises from 10 % to 90 %");
  const double rise_s = (until - from) / w->rate_hz;
  /* Noise over the slope at either end, and straight lines between samples (each a rectangle of one sample). */
  const double slope = 0.8 * step / (rise_s > 0 ? rise_s : 1 / w->rate_hz);
  const double of_noise = noise / slope, of_lines = 1 / (sqrt(12.0) * w->rate_hz);
  give(answer, rise_s, "s", sqrt(2 * of_noise * of_noise + 2 * of_lines * of_lines), w->count);
  return EYELEVEL_DONE;
}

/* ---- the driver ---- */

static double meter_range = 0;

static void read_back(eyelevel_answer* answer, const char* name, double value) {
  eyelevel_number* number = &answer->numbers[answer->number_count++];
  snprintf(number->name, sizeof number->name, "%s", name);
  number->value = value;
}

static int32_t shelf_meter(const eyelevel_question* question, eyelevel_answer* answer) {
  if (strcmp(question->ask, "greet") == 0) {
    snprintf(answer->text, sizeof answer->text, "Lanternfield,Shelf meter (made up),7,1.0");
    return EYELEVEL_DONE;
  }
  if (strcmp(question->ask, "self test") == 0) {
    read_back(answer, "result", 0);
    return EYELEVEL_DONE;
  }
  if (strcmp(question->ask, "set up") == 0) {
    const eyelevel_given *range = given(question, "range"), *aperture = given(question, "aperture");
    if (!range || !aperture) return failed(answer, "range and aperture are needed");
    meter_range = range->number <= 2 ? 2 : 20;
    read_back(answer, "range", meter_range);
    read_back(answer, "aperture", aperture->number);
    return EYELEVEL_DONE;
  }
  if (strcmp(question->ask, "read") == 0) {
    if (meter_range == 0) return failed(answer, "set the meter up first");
    give(answer, 1.25, "V", 0.001, 1);
    return EYELEVEL_DONE;
  }
  if (strcmp(question->ask, "make safe") == 0) return EYELEVEL_DONE;
  return failed(answer, "this meter cannot do that");
}

/* ---- the transport: an instrument that is in this file ---- */

struct shelf {
  char address[64];
  char answer[256];
  size_t at;
};

static int32_t shelf_open(const char* address, uint32_t within_ms, void** link, char* failure) {
  (void)within_ms;
  if (strcmp(address, "top") != 0 && strcmp(address, "bottom") != 0) {
    snprintf(failure, 256, "the shelf has a top and a bottom, no %s", address);
    return EYELEVEL_FAILED;
  }
  struct shelf* shelf = calloc(1, sizeof *shelf);
  if (!shelf) {
    snprintf(failure, 256, "no memory");
    return EYELEVEL_FAILED;
  }
  snprintf(shelf->address, sizeof shelf->address, "%s", address);
  *link = shelf;
  return EYELEVEL_DONE;
}

static int32_t shelf_write(void* link, const uint8_t* bytes, uint64_t count, uint32_t within_ms, char* failure) {
  (void)within_ms;
  (void)failure;
  struct shelf* shelf = link;
  if (count >= 5 && memcmp(bytes, "*IDN?", 5) == 0) {
    snprintf(shelf->answer, sizeof shelf->answer, "Lanternfield,Shelf (made up),%s,1.0\n", shelf->address);
    shelf->at = 0;
  }
  return EYELEVEL_DONE;
}

static int32_t shelf_read(void* link, uint8_t* into, uint64_t room, uint64_t* got, int32_t* is_end, uint32_t within_ms,
                          char* failure) {
  (void)within_ms;
  (void)failure;
  struct shelf* shelf = link;
  const size_t left = strlen(shelf->answer) - shelf->at;
  if (left == 0) return EYELEVEL_TIMED_OUT;
  *got = left < room ? left : room;
  memcpy(into, shelf->answer + shelf->at, *got);
  shelf->at += *got;
  *is_end = *got == left;
  return EYELEVEL_DONE;
}

static int32_t shelf_clear(void* link, uint32_t within_ms, char* failure) {
  (void)within_ms;
  (void)failure;
  struct shelf* shelf = link;
  shelf->answer[0] = 0;
  shelf->at = 0;
  return EYELEVEL_DONE;
}

static void shelf_close(void* link) { free(link); }

/* ---- what there is ---- */

static const eyelevel_part rise_time_part = {
    .size = sizeof(eyelevel_part),
    .kind = EYELEVEL_MEASURE,
    .name = "rise time",
    .about = "from 10 % to 90 % of the first rising edge of an averaged waveform",
    .example = "- measure: rise time of edge\n  name it: rise\n",
    .gives = "s",
    .takes = EYELEVEL_WAVEFORM,
    .call = rise_time,
};
static const eyelevel_part meter_part = {
    .size = sizeof(eyelevel_part),
    .kind = EYELEVEL_DRIVER,
    .name = "shelf-meter",
    .about = "a made-up meter that always reads 1.25 V",
    .example = "meter: { kind: multimeter, phrasebook: shelf-meter, resource: shelf }\n",
    .instrument = "multimeter",
    .call = shelf_meter,
};
static const eyelevel_transport shelf_transport = {
    .size = sizeof(eyelevel_transport),
    .open = shelf_open,
    .write = shelf_write,
    .read = shelf_read,
    .clear = shelf_clear,
    .close = shelf_close,
};
static const eyelevel_part transport_part = {
    .size = sizeof(eyelevel_part),
    .kind = EYELEVEL_TRANSPORT,
    .name = "shelf",
    .about = "reaches the made-up instruments on the shelf: top and bottom",
    .example = "resource: PLUGIN::shelf::top\n",
    .transport = &shelf_transport,
};
static const eyelevel_part* const parts[] = {&rise_time_part, &meter_part, &transport_part};
static const eyelevel_plugin all = {
    .size = sizeof(eyelevel_plugin), .abi = EYELEVEL_PLUGIN_ABI, .parts = parts, .part_count = 3};

const eyelevel_plugin* eyelevel_plugin_entry(uint32_t abi) { return abi >= EYELEVEL_PLUGIN_ABI ? &all : NULL; }
