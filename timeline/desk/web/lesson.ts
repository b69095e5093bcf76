// The lesson view.
import { askAuthor, showAuthor } from "./author";
import { cardView, drawRail, handView, tally } from "./card";
import { ask, seconds } from "./dialogs";
import { byId, clock, h, icon, redraw, say, when } from "./dom";
import { bindKeys, type Key } from "./keys";
import { cards, lines, speakerName, talks, type Card, type Line, type Row, type Talk } from "./lesson-data";
import { Player, speeds } from "./player";
import { Lesson } from "./server";
import { Strip, type Item, type Lane } from "./strip";
import type { Call, Peaks, State } from "./types";
import { calloutTitle, choices, figure, made, shapeOf, stanceWord, verdictWord } from "./words-for";
import { WordsView } from "./words-view";

const id = document.body.dataset.lesson ?? "";

class View {
  state!: State;
  list: Card[] = [];
  found: Talk[] = [];
  said: Line[] = [];
  current = 0; // the card shown
  step = ""; // the step open on it
  talkAt = -1;
  adding = false;
  player!: Player;
  strip!: Strip;
  words!: WordsView;
  server = new Lesson(id, (s) => this.show(s));
  private shownFirst = false;
  private peaks = ""; // drawn, or being fetched

  async start(): Promise<void> {
    showAuthor();
    byId("author").addEventListener("click", () => void askAuthor(true));
    await this.server.load();
    this.server.follow(() => this.state.revision, (p) => this.progress(p));
    void this.server.flush();
  }

  /** Draws the sound, once it is known: not before the recording was listened to. */
  private async sound(state: State): Promise<void> {
    document.body.classList.toggle("silent", !state.sound);
    this.player.now(state.duration, state.sound);
    if (!state.peaks || state.peaks === this.peaks) return;
    this.peaks = state.peaks;
    const answer = await fetch(state.peaks);
    if (answer.ok) await this.strip.show((await answer.json()) as Peaks);
  }

  private first(state: State): void {
    this.shownFirst = true;
    this.player = new Player(state.duration, state.sound);
    this.strip = new Strip(this.player);
    this.strip.pick = (t) => {
      if (!this.adding) return false;
      void this.addCall(t);
      return true;
    };
    this.words = new WordsView(byId("panel-words"), {
      hear: (at, what) => this.hear(at, what),
      loop: (from, to) => this.player.repeat({ from, to }),
      correct: (word, text) => void this.write({ kind: "word", word: word.n, text }),
    });
    this.bar();
    this.tabs();
    this.keys();
    this.player.onchange(() => this.tick());
    new ResizeObserver(() => requestAnimationFrame(() => this.rail())).observe(byId("card"));
    for (const b of document.querySelectorAll<HTMLElement>("[data-zoom]")) b.addEventListener("click", () => this.zoom(b.dataset.zoom ?? ""));
    byId("add-call").addEventListener("click", () => this.setAdding(!this.adding));
    byId("add-note").addEventListener("click", () => void this.noteAt(this.player.time));
    byId("add-next").addEventListener("click", () => void this.workOn());
    byId("put-right").addEventListener("click", () => void this.putRight());
  }

  /** Writes the lesson's cover at the top of the page. */
  private cover(s: State): void {
    byId("cover-title").textContent = s.title;
    document.title = `${s.title}: sidetone desk`;
    byId("cover-line").textContent = [s.date, s.student && `student ${s.student}`, s.instructor && `instructor ${s.instructor}`, s.aircraft, s.duration > 0 ? `${clock(s.duration)} long` : ""].filter(Boolean).join(" · ");
  }

  /** Lets a person put the cover right; only the lines that are changed are sent. */
  private async putRight(): Promise<void> {
    const s = this.state;
    const now: Record<string, string> = { title: s.title, date: s.date, student: s.student, instructor: s.instructor, aircraft: s.aircraft };
    byId<HTMLSelectElement>("cover-aircraft").replaceChildren(...(s.aircraft ? [] : [h("option", { value: "" }, "as usual")]), ...s.aircrafts.map((a) => h("option", { value: a }, a)));
    const given = await ask("cover", now);
    if (!given) return;
    const cover = Object.fromEntries(Object.entries(given).filter(([line, text]) => line in now && text !== now[line]));
    if (Object.keys(cover).length > 0) await this.write({ kind: "cover", cover });
  }

  show(state: State): void {
    if (this.state && state.revision < this.state.revision) return;
    this.state = state;
    if (!this.shownFirst) this.first(state);
    this.cover(state);
    void this.sound(state);
    this.list = cards(state);
    this.found = talks(this.list);
    this.said = lines(state);
    this.current = Math.min(this.current, Math.max(0, this.list.length - 1));
    this.progress(state.progress ?? null);
    redraw(byId("remarks"), [state.trouble, state.timeline?.recording.poor, ...(state.remarks ?? [])].filter(Boolean).map((r) => h("p", { class: "remark" }, r)));
    this.drawCard();
    this.strip.setLanes(this.lanes());
    performance.mark("sidetone-shown");
    // The card and the strip are seen first; the lists beside them follow.
    const rest = () => {
      this.drawPanels();
      this.words.show(this.state, this.said);
      this.tick();
      document.body.dataset.revision = String(this.state.revision);
    };
    if (document.body.dataset.revision === undefined) setTimeout(rest, 0);
    else rest();
  }

  private progress(p: State["progress"]): void {
    const box = byId("progress");
    box.hidden = !p;
    if (!p) return;
    const share = p.of > 0 ? ` ${Math.round((100 * p.done) / p.of)} %` : "";
    redraw(box, h("label", { for: "progress-bar" }, `Listening to the recording: ${p.stage}${share}. You may leave this page meanwhile.`), " ", h("progress", { id: "progress-bar", max: p.of || null, value: p.of ? p.done : null }));
  }

  // --- the card ---

  private drawCard(): void {
    const nav = byId("maneuvers");
    redraw(nav, this.list.map((c, i) => h("li", {}, h("button", { type: "button", class: "chip", "aria-current": i === this.current ? "true" : null, "data-keep": `card-${c.id}`, onclick: () => this.open(i) }, h("span", { class: "num" }, c.number), " ", c.maneuver.title, h("span", { class: "chip-tally" }, c.maneuver.abandoned ? "given up" : this.toTalk(c))))));
    nav.hidden = this.list.length < 2;
    const card = this.list[this.current];
    const box = byId("card");
    if (!card) {
      redraw(box, h("article", { class: "card" }, h("h2", {}, this.state.progress ? "Being listened to" : "No maneuver was found"), h("p", {}, this.state.progress ? "The card appears here as soon as the words are known." : "No stretch of this lesson follows a procedure. Read what was said in Words, or add the calls that were not heard.")));
      return;
    }
    redraw(box, cardView(card, {
      selected: this.step,
      hear: (at, what) => this.hear(at, what),
      select: (step) => this.select(step),
      accept: (c, r) => void this.verdict(c, r, "accept"),
      listenAgain: (c, r) => void this.verdict(c, r, "listen-again"),
      overrule: (c, r) => void this.verdict(c, r, "overrule"),
      note: (c, r) => void this.noteOn(c, r),
      workOn: (c, r) => void this.workOn(c, r),
      addCall: (_, r) => void this.addCall(r.at ?? this.player.time, r.step.id),
    }));
    this.rail();
  }

  private toTalk(c: Card): string {
    const n = c.maneuver.findings.length;
    return n === 0 ? "nothing to talk about" : `${n} to talk about`;
  }

  private rail(): void {
    const grid = byId("card").querySelector<HTMLElement>(".flow");
    if (grid) drawRail(grid);
  }

  open(i: number): void {
    this.current = Math.min(Math.max(i, 0), this.list.length - 1);
    this.step = "";
    this.drawCard();
    const c = this.list[this.current];
    if (c) {
      this.strip.bring(c.maneuver.start);
      say(`${c.maneuver.title}: ${tally(c)}`);
    }
  }

  select(step: string): void {
    const opening = this.step !== step;
    this.step = opening ? step : "";
    this.drawCard();
    const row = this.list[this.current]?.rows.find((r) => r.step.id === step);
    if (opening && row?.at !== null && row?.at !== undefined) this.hear(row.at, row.step.title);
  }

  /** Shows a step wherever it is, and plays it. */
  private goto(card: Card, step: string, at: number | null): void {
    this.current = this.list.findIndex((c) => c.id === card.id);
    this.step = step;
    this.drawCard();
    byId("card").querySelector(`[data-step="${CSS.escape(step)}"]`)?.scrollIntoView({ block: "center" });
    if (at !== null) this.hear(at, step);
  }

  hear(at: number, what: string): void {
    this.strip.bring(at);
    this.player.hear(at);
    say(`From ${clock(Math.max(0, at - 1))}: ${what}`);
  }

  // --- what people write ---

  private async write(fact: Record<string, unknown> & { kind: string }): Promise<void> {
    const author = await askAuthor();
    if (author) await this.server.write({ author, ...fact });
  }

  private async verdict(card: Card, row: Row, hand: "accept" | "overrule" | "listen-again"): Promise<void> {
    const of = { kind: "verdict", maneuver: card.id, step: row.step.id, hand };
    if (hand !== "overrule") {
      await this.write(of);
      say(`${row.step.title}: saved`);
      return;
    }
    const said = row.step.verdict === "heard" ? "not-heard" : "heard";
    const given = await ask("overrule", { verdict: said }, `The machine says of “${row.step.title}”: ${verdictWord(row.step.verdict)}.`);
    if (given) await this.write({ ...of, verdict: given.verdict, reason: given.reason });
  }

  private async noteOn(card: Card, row: Row): Promise<void> {
    const given = await ask("note", {}, `On the step “${row.step.title}”`);
    if (given?.text) await this.write({ kind: "note", maneuver: card.id, step: row.step.id, text: given.text });
  }

  private async noteAt(at: number): Promise<void> {
    this.player.pause();
    const given = await ask("note", {}, `At ${clock(at)} in the recording`);
    if (given?.text) await this.write({ kind: "note", at: Math.round(at * 100) / 100, text: given.text });
  }

  private async workOn(card?: Card, row?: Row): Promise<void> {
    const given = await ask("work", { text: row ? `${row.step.title}: ${verdictWord(row.step.verdict)}` : "" });
    if (given?.text) await this.write({ kind: "work-on", text: given.text, ...(card && row ? { maneuver: card.id, step: row.step.id } : {}) });
  }

  private setAdding(on: boolean): void {
    this.adding = on;
    byId("add-call").setAttribute("aria-pressed", String(on));
    document.body.classList.toggle("adding", on);
    say(on ? "Click the moment on the strip where the call was made, or press Enter to take the moment that is playing" : "");
    byId("adding-hint").hidden = !on;
  }

  private async addCall(at: number, callout = ""): Promise<void> {
    this.setAdding(false);
    this.player.pause();
    const known = this.state.callouts.find((c) => c.id === callout);
    const given = await ask("call", { at: clock(at) + (at % 1 ? `.${Math.floor((at % 1) * 10)}` : ""), callout: known?.title ?? "" });
    if (!given) return;
    const chosen = this.state.callouts.find((c) => c.title.toLowerCase() === given.callout!.toLowerCase());
    const when = seconds(given.at ?? "");
    if (!chosen || Number.isNaN(when)) {
      byId("trouble").replaceChildren(h("p", {}, !chosen ? `No callout is named “${given.callout}”: choose one of the list.` : `“${given.at}” is not a time such as 1:35.`));
      return;
    }
    byId("trouble").replaceChildren();
    const value = given.value ? Number(given.value.replace(/,/g, "")) : NaN;
    await this.write({ kind: "call", callout: chosen.id, at: when, ...(Number.isNaN(value) ? {} : { value, unit: given.unit }), ...(given.speaker ? { speaker: given.speaker } : {}) });
  }

  private async undo(fact?: number): Promise<void> {
    const last = fact ?? this.state.history.findLast((c) => !c.undone && c.kind !== "undo")?.fact;
    if (last) {
      await this.write({ kind: "undo", undo: last });
      say("Undone");
    }
  }

  // --- the panels ---

  private drawPanels(): void {
    const talk = byId("panel-talk");
    redraw(talk, this.found.length === 0 ? h("p", {}, this.list.length > 0 ? "Nothing in these calls needs talking about." : "Nothing yet.") : h("ol", { class: "finds" }, this.found.map((t, i) => this.find(t, i))));
    byId("tab-talk").textContent = `To talk about (${this.found.length})`;
    const s = this.state;
    byId("tab-notes").textContent = s.notes.length + s.workOn.length > 0 ? `Notes (${s.notes.length + s.workOn.length})` : "Notes";
    redraw(byId("next-list"), s.workOn.length === 0 ? h("li", { class: "none" }, "Nothing set yet.") : s.workOn.map((w) =>
      h("li", { class: w.done ? "done" : null }, h("label", {}, h("input", { type: "checkbox", checked: w.done ?? false, "data-keep": `next-${w.fact}`, onchange: (e: Event) => void this.write({ kind: "work-on", work: w.fact, text: w.text, ...(w.maneuver ? { maneuver: w.maneuver, step: w.step } : {}), done: (e.target as HTMLInputElement).checked }) }), " ", h("span", {}, w.text)), " ", h("span", { class: "who" }, w.author))));
    redraw(byId("note-list"), s.notes.length === 0 ? h("li", { class: "none" }, "No notes yet.") : s.notes.map((n) => {
      const card = this.list.find((c) => c.id === n.maneuver);
      const row = card?.rows.find((r) => r.step.id === n.step);
      const at = n.at ?? row?.at ?? null;
      return h("li", { class: "by-hand" }, at !== null ? h("button", { type: "button", class: "listen", "aria-label": `Listen at ${clock(at)}: ${n.text}`, onclick: () => this.hear(at, n.text) }, icon("listen", "glyph"), clock(at)) : null, " ", row ? h("strong", {}, `${row.step.title}: `) : null, n.text, " ", h("span", { class: "who" }, `${n.author}, ${when(n.written)}`));
    }));
    redraw(byId("panel-history"), h("p", { class: "hint" }, "Every change stays on record. Undoing one is a change too."), s.history.length === 0 ? h("p", {}, "Nobody has changed anything: this is what the machine said.") : h("ol", { class: "history" }, s.history.toReversed().map((c) => h("li", { class: c.undone ? "undone" : null }, h("span", {}, c.summary), " ", h("span", { class: "who" }, `${c.author}, ${when(c.written)}${c.undone ? ", undone" : ""}`), " ", !c.undone ? h("button", { type: "button", class: "small", "data-keep": `undo-${c.fact}`, "aria-label": c.kind === "undo" ? `Bring back what was undone: ${c.summary}` : `Undo: ${c.summary}`, onclick: () => void this.undo(c.fact) }, c.kind === "undo" ? "Bring back" : "Undo") : null))));
    const choose = byId<HTMLDataListElement>("callouts");
    if (choose.children.length !== s.callouts.length) choose.replaceChildren(...s.callouts.map((c) => h("option", { value: c.title })));
  }

  private find(t: Talk, i: number): HTMLElement {
    const f = t.finding;
    const level = { safety: "Safety", important: "Important", note: "Note" }[f.severity];
    return h("li", { class: `find is-${f.severity}`, "aria-current": i === this.talkAt ? "true" : null },
      h("button", { type: "button", class: "find-open", "data-keep": `find-${i}`, onclick: () => this.talk(i) },
        h("span", { class: "level" }, icon(shapeOf(f.kind)), h("strong", {}, level), " ", verdictWord(f.kind), h("span", { class: "find-at" }, f.at !== null ? clock(f.at) : "")),
        h("span", { class: "message" }, f.message)),
      h("p", { class: "find-of" }, t.card.maneuver.title),
      t.row?.hand ? handView(t.row.hand) : null);
  }

  private talk(i: number): void {
    const t = this.found[i];
    if (!t) return;
    this.talkAt = i;
    this.goto(t.card, t.finding.step, t.finding.at);
    this.drawPanels();
    byId("which").textContent = `${i + 1} of ${this.found.length}`;
    say(`${t.card.maneuver.title}. ${t.finding.message}`);
  }

  private tabs(): void {
    const list = [...document.querySelectorAll<HTMLElement>("[role=tab]")];
    const choose = (tab: HTMLElement) => {
      for (const t of list) {
        const on = t === tab;
        t.setAttribute("aria-selected", String(on));
        t.tabIndex = on ? 0 : -1;
        byId(t.getAttribute("aria-controls") ?? "").hidden = !on;
      }
    };
    list.forEach((t, i) => {
      t.addEventListener("click", () => choose(t));
      t.addEventListener("keydown", (e) => {
        const to = e.key === "ArrowRight" ? i + 1 : e.key === "ArrowLeft" ? i - 1 : -1;
        const next = list[(to + list.length) % list.length];
        if (to === -1 && e.key !== "ArrowLeft") return;
        e.preventDefault();
        if (next) {
          choose(next);
          next.focus();
        }
      });
    });
    this.tab = (name) => {
      const t = byId(`tab-${name}`);
      choose(t);
      t.focus();
    };
  }
  private tab: (name: string) => void = () => undefined;

  // --- the strip ---

  private lanes(): Lane[] {
    const s = this.state;
    const channels = s.timeline?.recording.channels ?? 1;
    const voices = new Map<string, Item[]>();
    for (const l of this.said) {
      const who = speakerName(l.speaker, l.channel, channels) || "Speech";
      if (!voices.has(who)) voices.set(who, []);
      const text = l.words.map((w) => w.text).join(" ");
      voices.get(who)!.push({ kind: "speech", from: l.start, to: l.end, label: text, hint: `${clock(l.start)}  ${text}`, open: () => this.hear(l.start, text) });
    }
    const added = new Set(s.added.map((c) => c.at.toFixed(1)));
    const calls = (s.timeline?.calls ?? []).map((c: Call): Item => {
      const title = calloutTitle(c.id, s.callouts);
      const value = figure(c.value, c.unit);
      return { kind: "call", from: c.start, to: c.end, label: value ? `${title} ${value}` : title, hint: `${clock(c.start)}  ${title}${value ? " " + value : ""}${stanceWord(c) ? ", " + stanceWord(c) : ""}: “${c.heard}”`, faint: !made(c), hand: added.has(c.start.toFixed(1)), open: () => this.hear(c.start, title) };
    });
    const maneuvers: Item[] = [];
    const phases: Item[] = [];
    const finds: Item[] = [];
    this.list.forEach((card, i) => {
      const m = card.maneuver;
      maneuvers.push({ kind: "maneuver", from: m.start, to: m.end, label: `${card.number}  ${m.title}`, hint: `${clock(m.start)}  ${m.title}: ${tally(card)}`, open: () => { this.open(i); this.hear(m.start, m.title); } });
      const ends = new Map<string, Item>();
      for (const r of card.rows) {
        if (r.step.at === null || !r.step.phase) continue;
        const e = ends.get(r.step.phase);
        if (!e) ends.set(r.step.phase, { kind: "phase", from: r.step.at, to: (r.call?.end ?? r.step.at) + 0.4, label: r.step.phase, hint: `${r.step.phase}, ${m.title}`, open: () => { this.open(i); this.hear(r.step.at!, r.step.phase!); } });
        else {
          e.from = Math.min(e.from, r.step.at);
          e.to = Math.max(e.to, (r.call?.end ?? r.step.at) + 0.4);
        }
      }
      phases.push(...ends.values());
    });
    this.found.forEach((t, i) => {
      if (t.finding.at !== null) finds.push({ kind: "finding", from: t.finding.at, to: t.finding.at, label: "", shape: shapeOf(t.finding.kind), hint: `${clock(t.finding.at)}  ${t.finding.message}`, open: () => this.talk(i) });
    });
    const notes: Item[] = s.notes.flatMap((n): Item[] => {
      const at = n.at ?? this.list.find((c) => c.id === n.maneuver)?.rows.find((r) => r.step.id === n.step)?.at;
      return at === undefined || at === null ? [] : [{ kind: "note", from: at, to: at, label: "", shape: "pen", hint: `${clock(at)}  ${n.author}: ${n.text}`, open: () => { this.tab("notes"); this.hear(at, n.text); } }];
    });
    return [
      ...[...voices].map(([name, items]): Lane => ({ name, kind: "speech", height: 24, items })),
      { name: "Phases", kind: "phase", height: 24, items: phases },
      { name: "Maneuvers", kind: "maneuver", height: 26, items: maneuvers },
      { name: "Calls", kind: "call", height: 32, items: calls },
      { name: "Findings", kind: "finding", height: 24, items: finds },
      { name: "Notes", kind: "note", height: 22, items: notes },
    ];
  }

  private zoom(what: string): void {
    const card = this.list[this.current];
    if (what === "in") this.strip.zoom(1.6);
    else if (what === "out") this.strip.zoom(1 / 1.6);
    else if (what === "maneuver" && card) this.strip.showStretch({ from: card.maneuver.start, to: card.maneuver.end });
    else this.strip.showWhole();
  }

  // --- listening ---

  private bar(): void {
    const p = this.player;
    const seek = byId<HTMLInputElement>("seek");
    seek.max = String(Math.ceil(p.duration));
    seek.addEventListener("input", () => {
      p.seek(Number(seek.value));
      this.strip.bring(Number(seek.value));
    });
    byId("play").replaceChildren(icon("listen", "glyph"));
    byId("play").addEventListener("click", () => p.toggle());
    byId("back").addEventListener("click", () => p.seek(p.time - 5));
    byId("loop").addEventListener("click", () => this.loop());
    const speed = byId<HTMLSelectElement>("speed");
    speed.replaceChildren(...speeds.map((v) => h("option", { value: v, selected: v === 1 }, v === 1 ? "normal" : `${v} ×`)));
    speed.addEventListener("change", () => (p.speed = Number(speed.value)));
    byId("next").addEventListener("click", () => this.talk(Math.min(this.talkAt + 1, this.found.length - 1)));
    byId("help").addEventListener("click", () => byId<HTMLDialogElement>("keys").showModal());
  }

  private loop(): void {
    const p = this.player;
    const card = this.list[this.current];
    const row = card?.rows.find((r) => r.step.id === this.step);
    if (!p.looping && !p.loop && row?.at !== null && row?.at !== undefined) {
      p.repeat({ from: Math.max(0, row.at - 1), to: Math.min(p.duration, (row.call?.end ?? row.at + 4) + 1) });
      return;
    }
    p.toggleLoop();
    if (p.looping) p.repeat(p.loop!);
    say(p.looping ? `Repeating ${clock(p.loop!.from)} to ${clock(p.loop!.to)}` : "No longer repeating");
  }

  private tick(): void {
    const p = this.player;
    const text = `${clock(p.time)} / ${clock(p.duration)}`;
    const out = byId("clock");
    if (out.textContent !== text) {
      out.textContent = text;
      const seek = byId<HTMLInputElement>("seek");
      seek.value = String(Math.floor(p.time));
      seek.setAttribute("aria-valuetext", text);
    }
    out.dataset.at = p.time.toFixed(2);
    const play = byId("play");
    const label = p.playing ? "Pause" : "Play";
    if (play.getAttribute("aria-label") !== label) {
      play.setAttribute("aria-label", label);
      play.replaceChildren(icon(p.playing ? "pause" : "listen", "glyph"));
    }
    byId("loop").setAttribute("aria-pressed", String(p.looping));
    byId<HTMLSelectElement>("speed").value = String(p.speed);
    const line = this.words.follow(p.time);
    const now = byId("now");
    const said = line ? line.words.map((w) => w.text).join(" ") : "";
    if (now.textContent !== said) now.textContent = said;
  }

  private keys(): void {
    const p = this.player;
    const list: Key[] = [
      { keys: [" "], shown: "Space", does: "play or pause; on a button you came to with Tab, press it (as Enter does)", run: () => p.toggle() },
      { keys: ["ArrowLeft"], shown: "←", does: "5 seconds back", run: () => p.seek(p.time - 5) },
      { keys: ["ArrowRight"], shown: "→", does: "5 seconds on", run: () => p.seek(p.time + 5) },
      { keys: ["<", ","], shown: "<", does: "slower, same pitch", run: () => p.slower(-1) },
      { keys: [">", "."], shown: ">", does: "faster", run: () => p.slower(1) },
      { keys: ["["], shown: "[", does: "the stretch to repeat begins here", run: () => { p.loop = { from: p.time, to: Math.max(p.loop?.to ?? 0, p.time + 3) }; this.strip.draw(); } },
      { keys: ["]"], shown: "]", does: "… and ends here", run: () => { p.loop = { from: Math.min(p.loop?.from ?? p.time - 3, p.time - 0.5), to: p.time }; this.strip.draw(); } },
      { keys: ["l"], shown: "l", does: "repeat the stretch, or stop repeating", run: () => this.loop() },
      { keys: ["n"], shown: "n", does: "next thing to talk about", run: () => this.talk(Math.min(this.talkAt + 1, this.found.length - 1)) },
      { keys: ["p"], shown: "p", does: "the one before", run: () => this.talk(Math.max(this.talkAt - 1, 0)) },
      { keys: ["ArrowDown", "j"], shown: "↓", does: "next step of the card", run: () => this.move(1) },
      { keys: ["ArrowUp", "k"], shown: "↑", does: "step before", run: () => this.move(-1) },
      { keys: ["m"], shown: "m", does: "next maneuver", run: () => this.open((this.current + 1) % Math.max(1, this.list.length)) },
      { keys: ["a"], shown: "a", does: "agree with the verdict of the open step", run: () => this.onStep((c, r) => void this.verdict(c, r, "accept")) },
      { keys: ["o"], shown: "o", does: "overrule it", run: () => this.onStep((c, r) => void this.verdict(c, r, "overrule")) },
      { keys: ["g"], shown: "g", does: "mark it “listen again”", run: () => this.onStep((c, r) => void this.verdict(c, r, "listen-again")) },
      { keys: ["c"], shown: "c", does: "add a call that was not heard", run: () => this.setAdding(!this.adding) },
      { keys: ["Enter"], shown: "Enter", does: "… at the moment that is playing", first: () => this.adding, run: () => { if (this.adding) void this.addCall(p.time); } },
      { keys: ["t"], shown: "t", does: "write a note at this moment", run: () => void this.noteAt(p.time) },
      { keys: ["w"], shown: "w", does: "set what to work on next", run: () => void this.workOn() },
      { keys: ["u", "Ctrl+z"], shown: "u", does: "undo the last change", run: () => void this.undo() },
      { keys: ["+", "="], shown: "+", does: "zoom in", run: () => this.strip.zoom(1.6) },
      { keys: ["-"], shown: "−", does: "zoom out", run: () => this.strip.zoom(1 / 1.6) },
      { keys: ["0"], shown: "0", does: "the whole lesson", run: () => this.strip.showWhole() },
      { keys: ["1"], shown: "1 2 3 4", does: "to talk about, words, notes, history", run: () => this.tab("talk") },
      { keys: ["2"], shown: "", does: "", run: () => this.tab("words") },
      { keys: ["3"], shown: "", does: "", run: () => this.tab("notes") },
      { keys: ["4"], shown: "", does: "", run: () => this.tab("history") },
      { keys: ["Escape"], shown: "Esc", does: "leave what was begun", run: () => this.setAdding(false) },
      { keys: ["?"], shown: "?", does: "show or hide these keys", run: () => byId<HTMLDialogElement>("keys").showModal() },
    ];
    bindKeys(list);
    byId("key-list").replaceChildren(...list.filter((k) => k.shown).map((k) => h("div", {}, h("dt", {}, h("kbd", {}, k.shown)), h("dd", {}, k.does))));
    byId("keys").addEventListener("keydown", (e) => {
      if (e.key === "?") byId<HTMLDialogElement>("keys").close();
    });
  }

  private onStep(f: (c: Card, r: Row) => void): void {
    const c = this.list[this.current];
    const r = c?.rows.find((x) => x.step.id === this.step);
    if (c && r) f(c, r);
    else say("Open a step of the card first");
  }

  private move(by: number): void {
    const rows = this.list[this.current]?.rows ?? [];
    const i = rows.findIndex((r) => r.step.id === this.step);
    const row = rows[i < 0 ? (by > 0 ? 0 : rows.length - 1) : Math.min(Math.max(i + by, 0), rows.length - 1)];
    if (!row || row.step.id === this.step) return;
    this.select(row.step.id);
    const button = byId("card").querySelector<HTMLElement>(`[data-keep="step-${CSS.escape(row.step.id)}"]`);
    button?.focus({ preventScroll: true });
    button?.scrollIntoView({ block: "center" });
  }
}

const verdictField = document.querySelector<HTMLSelectElement>("#overrule select");
verdictField?.replaceChildren(...choices.map((v) => h("option", { value: v }, verdictWord(v))));

const view = new View();
view.start().catch((e: unknown) => {
  byId("trouble").replaceChildren(h("p", {}, `The lesson could not be opened: ${e instanceof Error ? e.message : String(e)}. Is the desk's program running? `, h("a", { href: location.href }, "Try again"), "."));
});
