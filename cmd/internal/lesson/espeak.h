// Tells when a text's sounds are said, by Debian's libespeak-ng1, loaded when it is first needed.
// The few declarations needed of its interface (espeak-ng's speak_lib.h) stand
// in espeak.c, so that nothing has to be installed to build.

typedef struct {
	int position; // of the word in the text, in characters from 1
	int sample;   // where this sound begins
	int pause;    // it is no sound but a pause
} sidetone_sound;

typedef struct {
	int count; // samples
	sidetone_sound *sounds;
	int sounds_count;
	int rate; // Hz
} sidetone_spoken;

// sidetone_speak returns what went wrong, or NULL. The caller frees the
// list. Only one call at a time.
const char *sidetone_speak(const char *voice, const char *text, sidetone_spoken *out);
