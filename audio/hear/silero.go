package hear

import "sidetone/audio/speech"

// Silero makes the detectors of one recording: the model is loaded once, and
// shared by its channels. library and model are as in speech.NewDetector.
func Silero(library, model string) Detectors {
	var first *speech.Detector
	return func() (Detector, error) {
		if first != nil {
			return first.Another()
		}
		d, err := speech.NewDetector(library, model)
		if err != nil {
			return nil, err
		}
		first = d
		return d, nil
	}
}
