/* SPDX-License-Identifier: Apache-2.0 */
/* The border between eyelevel and a plugin that is a shared library: plain C, one function to be found by name, structs
 * that begin with their size. Version 1.
 *
 *   - Every struct begins with `size`, set by whoever made it to sizeof of the struct. Whoever reads looks at no field
 *     that lies beyond it. Later versions only append fields; a struct smaller than in this version is refused.
 *   - Text is UTF-8, ended by a zero byte, owned by whoever made it, and stays at least until the call returns; what a
 *     plugin declares stays for ever. NULL means the same as "".
 *   - No exception and no longjmp may leave a function of the plugin. Nothing is freed on the other side of the border.
 *   - Quantities are in SI units without prefix: V, s, Hz, Ohm, "1" for ratios.
 *   - Functions are called on one thread, one at a time, never the program's own loop. They should return within
 *     `within_ms`; one that does not is given up and its plugin is not asked again until it has returned.
 *   - The plugin lives in the program's own memory: what it breaks, it breaks for all. What need not be fast, or is not
 *     trusted to that extent, belongs into a process (README.md of examples/plugins).
 */
#ifndef EYELEVEL_PLUGIN_H
#define EYELEVEL_PLUGIN_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define EYELEVEL_PLUGIN_ABI 1u

enum eyelevel_kind { EYELEVEL_VERB = 1, EYELEVEL_MEASURE = 2, EYELEVEL_DRIVER = 3, EYELEVEL_TRANSPORT = 4 };

enum eyelevel_type {
  EYELEVEL_TEXT = 1,
  EYELEVEL_WORD = 2,
  EYELEVEL_COUNT = 3,
  EYELEVEL_QUANTITY = 4,
  EYELEVEL_YES_OR_NO = 5,
  EYELEVEL_READING = 6,  /* the name of an earlier reading, of verbs only */
  EYELEVEL_WAVEFORM = 7, /* an averaged waveform */
  EYELEVEL_CAPTURES = 8  /* figures of kept captures */
};

/* What functions return. */
enum eyelevel_outcome { EYELEVEL_DONE = 0, EYELEVEL_FAILED = 1, EYELEVEL_TIMED_OUT = 2 };

/* ---- what the plugin is given ---- */

typedef struct eyelevel_reading {
  uint32_t size;
  char unit[20];
  double value;
  double standard_uncertainty;
  double degrees_of_freedom; /* 0: infinitely many */
  int64_t count;             /* observations */
} eyelevel_reading;

typedef struct eyelevel_waveform {
  uint32_t size;
  const float* volts;
  uint64_t samples;
  double rate_hz;
  double noise_v; /* standard deviation of one sample about the mean waveform */
  int64_t count;  /* records averaged */
} eyelevel_waveform;

/* A figure that could not be had is not a number. */
typedef struct eyelevel_capture {
  uint32_t size;
  double from_s, level_v, i3_v, top_v, bottom_v, mean_v, i3_over_i11, asymmetry;
} eyelevel_capture;

/* One key of the step with its value, or a result that the step names; "of" is what a measure is made from. */
typedef struct eyelevel_given {
  uint32_t size;
  uint32_t type; /* enum eyelevel_type */
  const char* key;
  double number;    /* quantity */
  int64_t whole;    /* count; yes is 1 */
  const char* text; /* text, word */
  const eyelevel_reading* reading;
  const eyelevel_waveform* waveform;
  const eyelevel_capture* const* captures;
  uint64_t capture_count;
} eyelevel_given;

typedef struct eyelevel_question {
  uint32_t size;
  uint32_t kind;    /* enum eyelevel_kind */
  const char* name; /* of the part */
  const char* ask;  /* of a driver: "greet", "self test", "set up", "read", "make safe" */
  const eyelevel_given* const* given;
  uint32_t given_count;
  uint32_t within_ms;
} eyelevel_question;

/* ---- what it answers; all zero but `size` when it is called ---- */

typedef struct eyelevel_number {
  char name[40];
  double value;
} eyelevel_number;

typedef struct eyelevel_answer {
  uint32_t size;
  uint32_t has_reading;
  eyelevel_reading reading; /* its size is set already */
  char note[256];           /* into the record */
  char text[256];           /* of a driver that was greeted: who the instrument is */
  uint32_t number_count;    /* of a driver: what it read back */
  eyelevel_number numbers[16];
  char message[256]; /* when it failed: why */
  char advice[256];  /* when it failed: what to try */
} eyelevel_answer;

/* ---- what it declares ---- */

typedef struct eyelevel_parameter {
  uint32_t size;
  uint32_t type; /* enum eyelevel_type */
  uint32_t required;
  const char* name;
  const char* unit; /* of a quantity */
  const char* help;
  const char* example;
  const char* const* choices; /* of a word: ended by NULL; NULL when any word will do */
} eyelevel_parameter;

/* Links of a transport: whole messages, as IEEE 488.2 has them. `failure` has room for 256 bytes. */
typedef struct eyelevel_transport {
  uint32_t size;
  int32_t (*open)(const char* address, uint32_t within_ms, void** link, char* failure);
  int32_t (*write)(void* link, const uint8_t* bytes, uint64_t count, uint32_t within_ms, char* failure);
  /* Some bytes of the answer, at most `room`; *is_end when they are its last. */
  int32_t (*read)(void* link, uint8_t* into, uint64_t room, uint64_t* got, int32_t* is_end, uint32_t within_ms,
                  char* failure);
  /* Afterwards no answer to an earlier message can be read any more. */
  int32_t (*clear)(void* link, uint32_t within_ms, char* failure);
  void (*close)(void* link);
} eyelevel_transport;

typedef struct eyelevel_part {
  uint32_t size;
  uint32_t kind; /* enum eyelevel_kind */
  const char* name;
  const char* about;      /* one line */
  const char* example;    /* YAML */
  const char* gives;      /* unit of its reading; NULL: none */
  uint32_t takes;         /* of a measure: EYELEVEL_WAVEFORM or EYELEVEL_CAPTURES */
  const char* instrument; /* of a driver: "multimeter" or "counter" */
  const eyelevel_parameter* const* parameters;
  uint32_t parameter_count;
  int32_t (*call)(const eyelevel_question* question, eyelevel_answer* answer); /* all but transports */
  const eyelevel_transport* transport;
} eyelevel_part;

typedef struct eyelevel_plugin {
  uint32_t size;
  uint32_t abi; /* EYELEVEL_PLUGIN_ABI */
  const eyelevel_part* const* parts;
  uint32_t part_count;
} eyelevel_plugin;

#if defined(__GNUC__)
#define EYELEVEL_EXPORT __attribute__((visibility("default")))
#else
#define EYELEVEL_EXPORT
#endif

/* Found by this name; called once. `abi` is the program's own version; NULL says that the plugin needs another. */
EYELEVEL_EXPORT const eyelevel_plugin* eyelevel_plugin_entry(uint32_t abi);

#ifdef __cplusplus
}
#endif

#endif
