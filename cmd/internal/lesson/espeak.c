#include "espeak.h"

#include <dlfcn.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
	int type;
	unsigned int unique;
	int position, length, milliseconds, sample;
	void *user;
	union {
		int number;
		const char *name;
		char string[8];
	} id;
} event;

// voice_wanted is espeak_VOICE; only the language is asked for.
typedef struct {
	const char *name, *languages, *identifier;
	unsigned char gender, age, variant, reserved;
	int score;
	void *spare;
} voice_wanted;

enum {
	event_end = 0,      // espeakEVENT_LIST_TERMINATED
	event_phoneme = 7,  // espeakEVENT_PHONEME
	output_sync = 2,    // AUDIO_OUTPUT_SYNCHRONOUS
	want_phonemes = 1,  // espeakINITIALIZE_PHONEME_EVENTS
	stay_alive = 0x8000, // espeakINITIALIZE_DONT_EXIT
	by_character = 1,   // POS_CHARACTER
	utf8 = 1,            // espeakCHARS_UTF8
	end_pause = 0x1000,  // espeakENDPAUSE, as the program does
};

static sidetone_spoken *spoken;
static const char *trouble;

static int collect(short *wave, int n, event *e) {
	for (; e->type != event_end; e++) {
		if (e->type != event_phoneme)
			continue;
		sidetone_sound *more = realloc(spoken->sounds, (spoken->sounds_count + 1) * sizeof *more);
		if (!more) {
			trouble = "out of memory";
			return 1;
		}
		spoken->sounds = more;
		more[spoken->sounds_count++] = (sidetone_sound){e->position, e->sample, e->id.string[0] == '_' || !e->id.string[0]};
	}
	if (wave && n > 0)
		spoken->count += n;
	return 0;
}

static int rate;
static int (*set_voice)(const char *);
static int (*set_language)(const voice_wanted *);
static int (*synth)(const void *, size_t, unsigned, int, unsigned, unsigned, unsigned *, void *);
static int (*synchronize)(void);

static const char *load(void) {
	if (rate)
		return NULL;
	void *lib = dlopen("libespeak-ng.so.1", RTLD_NOW);
	if (!lib)
		return "libespeak-ng.so.1 cannot be loaded";
	int (*initialize)(int, int, const char *, int) = dlsym(lib, "espeak_Initialize");
	void (*set_callback)(int (*)(short *, int, event *)) = dlsym(lib, "espeak_SetSynthCallback");
	set_voice = dlsym(lib, "espeak_SetVoiceByName");
	set_language = dlsym(lib, "espeak_SetVoiceByProperties");
	synth = dlsym(lib, "espeak_Synth");
	synchronize = dlsym(lib, "espeak_Synchronize");
	if (!initialize || !set_callback || !set_voice || !set_language || !synth || !synchronize)
		return "libespeak-ng.so.1 lacks a function";
	int hz = initialize(output_sync, 0, NULL, want_phonemes | stay_alive);
	if (hz <= 0)
		return "espeak-ng does not start";
	set_callback(collect);
	rate = hz;
	return NULL;
}

const char *sidetone_speak(const char *voice, const char *text, sidetone_spoken *out) {
	const char *wrong = load();
	if (wrong)
		return wrong;
	voice_wanted language = {.languages = voice};
	if (set_voice(voice) != 0 && set_language(&language) != 0)
		return "there is no such voice";
	spoken = out;
	trouble = NULL;
	out->rate = rate;
	if (synth(text, strlen(text) + 1, 0, by_character, 0, utf8 | end_pause, NULL, NULL) != 0 || synchronize() != 0)
		return "the text could not be spoken";
	return trouble;
}
