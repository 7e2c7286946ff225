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

/* ---- the measure: from 10 % to 90 % between the mean of the first and of the last twentieth of the record ---- */

static double mean_of(const float* volts, uint64_t count) {
  double sum = 0;
  for (uint64_t i = 0; i < count; ++i) sum += volts[i];
  return sum / (double)count;
}

/* Place in samples, between two, where the record first rises through a level; negative when it never does. */
static double crossing(const eyelevel_waveform* w, double level) {
  for (uint64_t i = 1; i < w->samples; ++i)
    if (w->volts[i - 1] < level && w->volts[i] >= level)
      return (double)(i - 1) + (level - w->volts[i - 1]) / ((double)w->volts[i] - w->volts[i - 1]);
  return -1;
}

static int32_t rise_time(const eyelevel_question* question, eyelevel_answer* answer) {
  const eyelevel_given* of = given(question, "of");
  if (!of || of->type != EYELEVEL_WAVEFORM) return failed(answer, "a waveform is needed");
  const eyelevel_waveform* w = of->waveform;
  const uint64_t ends = w->samples / 20;
  if (ends < 1) return failed(answer, "a waveform of 20 samples or more is needed");
  const double low = mean_of(w->volts, ends), high = mean_of(w->volts + w->samples - ends, ends);
  const double step = high - low, noise = w->noise_v / sqrt((double)w->count);
  if (!(step > 10 * noise) || !(step > 0)) return failed(answer, "there is no rising edge from the first samples to the last");
  const double from = crossing(w, low + 0.1 * step), until = crossing(w, low + 0.9 * step);
  if (from < 0 || until < from) return failed(answer, "the edge does not rise from 10 % to 90 %");
  const double rise_s = (until - from) / w->rate_hz;
  /* Noise over the slope at either end, and straight lines between samples. */
  const double slope = 0.8 * step / (rise_s > 0 ? rise_s : 1 / w->rate_hz);
  const double u = sqrt(2 * (noise / slope) * (noise / slope) + 1 / (6 * w->rate_hz * w->rate_hz));
  give(answer, rise_s, "s", u, w->count);
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
