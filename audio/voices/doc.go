// Package voices tells whose voice is heard, from a few seconds of each.
//
// A voice is taught by stretches of speech: labelled ones of the recording itself,
// or a clip. Speech becomes mel-frequency cepstra (S. B. Davis and P. Mermelstein,
// "Comparison of Parametric Representations for Monosyllabic Word Recognition in
// Continuously Spoken Sentences", IEEE Trans. ASSP 28(4), 1980) in the band an
// intercom passes, with the steady noise of the recording accounted for. All speech
// of the recording fits a Gaussian mixture with diagonal covariances; a voice is how
// its means lie off those of the mixture, which is known the better the more was
// heard of it (J.-L. Gauvain and C.-H. Lee, "Maximum a Posteriori Estimation for
// Multivariate Gaussian Mixture Observations of Markov Chains", IEEE Trans. Speech
// and Audio Processing 2(2), 1994; D. A. Reynolds, T. F. Quatieri and R. B. Dunn,
// "Speaker Verification Using Adapted Gaussian Mixture Models", Digital Signal
// Processing 10, 2000). Stretches are held against each taught voice and against a
// voice nobody was taught, all offsets integrated out; a hidden Markov model over
// the words of an utterance lets the voice change where there is a pause.
package voices
