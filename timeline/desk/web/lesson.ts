// The lesson view.
import { askAuthor, author, showAuthor } from "./author";
import { calloutsOf, callOf, offer } from "./call-form";
import { cardView, drawRail, handView, tally } from "./card";
import { ask, Wrong, type Given } from "./dialogs";
import { byId, clock, h, icon, plays, reasonOf, redraw, say, when } from "./dom";
import { bindKeys, letters, type Key } from "./keys";
import { cards, decides, lines, machineSays, ownHand, speakerName, stretchOf, talks, type Card, type Line, type Row, type Talk } from "./lesson-data";
import { closing } from "./menu";
import { Missing } from "./missing";
import { offerNames } from "./names";
import { notice } from "./notice";
import { Player, speeds } from "./player";
import { quality } from "./quality";
import { removeLesson } from "./remove";
import { bringIntoView, followStrip } from "./room";
import { Lesson, Refused, type Outcome } from "./server";
import { Side } from "./side";
import { Strip, type Item, type Lane } from "./strip";
import type { Call, Peaks, State } from "./types";
import { calloutTitle, choices, figure, handWord, made, severityWord, shapeOf, stanceWord, verdictWord } from "./words-for";
import { signed, withWaiting } from "./waiting";
import { WordsView } from "./words-view";

const id = document.body.dataset.lesson ?? "";
const later = "Not saved yet: it is done once the desk's program answers.";

class View {
  state!: State; // with what waits to be saved
  private sent!: State; // as the server said it last
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
  side!: Side;
  server = new Lesson(id, (s) => this.show(s), () => this.sent && this.show(this.sent));
  private missing = new Missing(id, () => void this.server.load().catch(() => undefined));
  private shownFirst = false;
  private peaks = ""; // drawn, or being fetched

  async start(): Promise<void> {
    showAuthor();
    byId("author").addEventListener("click", () => {
      this.player?.pause();
      void askAuthor(true).then(() => this.state && this.drawCard());
    });
    closing(document.querySelector<HTMLDetailsElement>(".hand-on")!);
    followStrip();
    await this.server.load();
    byId("remove-lesson").addEventListener("click", () => void this.remove());
    this.server.follow(() => this.state.revision, (p) => this.progress(p));
    void this.server.flush();
  }

  /** Draws the sound, once it is known: not before the recording was listened to. */
  private async sound(state: State): Promise<void> {
    document.body.classList.toggle("silent", !state.sound);
    this.missing.show(state);
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
      correct: (word, text) => void this.put({ kind: "word", word: word.n, text }, `“${text || "no word"}” instead of “${word.text}”`),
      writing: () => this.player.pause(),
    });
    this.bar();
    this.side = new Side(() => {
      this.words.keepUp();
      if (this.step && document.body.classList.contains("side-open")) this.bringStep(this.step);
    });
    this.keys();
    this.player.onchange(() => this.tick());
    new ResizeObserver(() => requestAnimationFrame(() => this.rail())).observe(byId("card"));
    for (const b of document.querySelectorAll<HTMLElement>("[data-zoom]")) b.addEventListener("click", () => this.zoom(b.dataset.zoom ?? ""));
    byId("add-call").addEventListener("click", () => this.setAdding(!this.adding));
    byId("add-note").addEventListener("click", () => void this.noteAt(this.player.time));
    byId("add-next").addEventListener("click", () => void this.workOn());
    byId("put-right").addEventListener("click", () => void this.putRight());
  }

  private async remove(): Promise<void> {
    this.player.pause();
    try {
      if (await removeLesson(id)) location.assign("/");
      else if (document.activeElement?.matches("body, dialog *") ?? true) document.querySelector<HTMLElement>(".hand-on summary")?.focus(); // the menu has closed
    } catch (e) {
      byId("trouble").replaceChildren(h("p", {}, `The lesson was not removed: ${reasonOf(e)}`));
    }
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
    byId<HTMLSelectElement>("cover-aircraft").replaceChildren(...(s.aircraft ? [] : [h("option", { value: "" }, "not named: the generic trainer")]), ...s.aircrafts.map((a) => h("option", { value: a }, a)));
    await this.ask("cover", now, async (given) => {
      const cover = Object.fromEntries(Object.entries(given).filter(([line, text]) => line in now && text !== now[line]));
      if (Object.keys(cover).length > 0) await this.written({ kind: "cover", cover }, "The cover");
    });
  }

  show(sent: State): void {
    if (this.sent && sent.revision < this.sent.revision) return;
    this.sent = sent;
    const state = (this.state = withWaiting(sent, this.server.held()));
    if (!this.shownFirst) this.first(state);
    this.cover(state);
    offerNames(state);
    void this.sound(state);
    this.list = cards(state);
    this.found = talks(this.list);
    this.stay();
    this.said = lines(state);
    this.current = Math.min(this.current, Math.max(0, this.list.length - 1));
    this.progress(state.progress ?? null);
    redraw(byId("remarks"), [state.timeline?.recording.poor, ...(state.remarks ?? [])].filter(Boolean).map((r) => h("p", { class: "remark" }, r)));
    byId("quality").textContent = quality(state.timeline?.recording);
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
    if (!card && this.state.trouble) {
      redraw(box, h("article", { class: "card" }, h("h2", {}, "This recording could not be heard"), h("p", { class: "remark" }, this.state.trouble), h("p", {}, "Add it again on the library's page once that is mended, or remove it: "), h("p", { class: "buttons" }, h("button", { type: "button", "data-keep": "remove", onclick: () => void this.remove() }, "Remove …"))));
      return;
    }
    if (!card) {
      redraw(box, h("article", { class: "card" }, h("h2", {}, this.state.progress ? "Being listened to" : "No maneuver was found"), h("p", {}, this.state.progress ? "The card appears here as soon as the words are known." : "No stretch of this lesson follows a procedure. Read what was said in Words, or add the calls that were not heard.")));
      return;
    }
    redraw(box, cardView(card, {
      selected: this.step,
      on: (r) => this.own(r),
      hear: (at, what) => this.hear(at, what),
      select: (step) => this.select(step),
      accept: (c, r) => void this.verdict(c, r, "accept"),
      listenAgain: (c, r) => void this.verdict(c, r, "listen-again"),
      overrule: (c, r) => void this.overrule(c, r),
      note: (c, r) => void this.noteOn(c, r),
      workOn: (c, r) => void this.workOn(c, r),
      addCall: (c, r) => void this.addCall(r.at ?? this.player.time, calloutsOf(this.state, c, r.step.id)[0]),
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
    this.bringStep(step);
    if (at !== null) this.hear(at, step);
  }

  /** Scrolls so that a step is in view, and its call beside it where both fit. */
  private bringStep(step: string): void {
    const of = (name: string) => byId("card").querySelector<HTMLElement>(`[data-${name}="${CSS.escape(step)}"]`);
    const first = of("step");
    if (first) bringIntoView(first, of("said") ?? of("missed"));
  }

  hear(at: number, what: string): void {
    this.strip.bring(at);
    this.player.hear(at);
    say(`From ${clock(Math.max(0, at - 1))}: ${what}`);
  }

  // --- what people write ---

  /** Opens a form; the sound waits until it is left. */
  private ask(form: string, values: Given, save: (given: Given) => Promise<void>, heading = ""): Promise<boolean> {
    this.player.pause();
    return ask(form, values, save, heading);
  }

  /** Who is writing, asked for when it is not known; "" when nobody says. */
  private who(): Promise<string> {
    if (!author()) this.player.pause();
    return askAuthor();
  }

  private async write(fact: Record<string, unknown> & { kind: string }): Promise<Outcome> {
    const by = await this.who();
    if (!by) throw new Wrong("Not written: say who is writing first.");
    return this.server.write({ author: by, ...fact });
  }

  /** Writes what a form holds, and tells what became of it. */
  private async written(fact: Record<string, unknown> & { kind: string }, what: string): Promise<void> {
    say(`${what}: ${(await this.write(fact)) === "saved" ? "saved" : "not saved yet"}`);
  }

  /** Writes what a button or a key stands for. */
  private put(fact: Record<string, unknown> & { kind: string }, what: string): Promise<void> {
    return this.tried(() => this.written(fact, what));
  }

  /** Does what no form is open for, and says why where it was not taken. */
  private async tried(does: () => Promise<void>): Promise<void> {
    try {
      await does();
    } catch (e) {
      if (e instanceof Refused) this.server.complain(`This was not taken: ${e.message}`);
      else if (e instanceof Wrong) notice(e.message);
      else throw e;
    }
  }

  private own(row: Row): string {
    return ownHand(row, author())?.hand ?? "";
  }

  private async verdict(card: Card, row: Row, hand: "accept" | "listen-again"): Promise<void> {
    if (!(await this.who())) return;
    const now = this.list.find((c) => c.id === card.id)?.rows.find((r) => r.step.id === row.step.id) ?? row;
    const word = handWord[hand];
    const sending = this.server.waiting().findLast((f) => f.kind === "verdict" && f.author === author() && f.maneuver === card.id && f.step === row.step.id);
    if ((sending ? sending.hand : this.own(now)) === hand) notice(`“${row.step.title}” has your “${word}” already. It is taken back under History.`);
    else await this.put({ kind: "verdict", maneuver: card.id, step: row.step.id, hand }, `${row.step.title}, ${word}`);
  }

  private async overrule(card: Card, row: Row): Promise<void> {
    const own = ownHand(row, author());
    const before = own?.hand === "overrule" ? { verdict: own.verdict ?? "heard", reason: own.reason ?? "" } : null;
    const machine = machineSays(row);
    await this.ask("overrule", before ?? { verdict: row.step.verdict === "heard" ? "not-heard" : "heard" }, async (given) => {
      if (before && before.verdict === given.verdict && before.reason === given.reason) return;
      await this.written({ kind: "verdict", maneuver: card.id, step: row.step.id, hand: "overrule", verdict: given.verdict, reason: given.reason }, `${row.step.title}, overruled`);
    }, `The machine says of “${row.step.title}”: ${machine ? verdictWord(machine) : "nothing, it did not find the maneuver"}.`);
  }

  private noteOn(card: Card, row: Row): Promise<boolean> {
    return this.ask("note", {}, (given) => this.written({ kind: "note", maneuver: card.id, step: row.step.id, text: given.text }, "Note"), `On the step “${row.step.title}”`);
  }

  private noteAt(at: number): Promise<boolean> {
    return this.ask("note", {}, (given) => this.written({ kind: "note", at: Math.round(at * 100) / 100, text: given.text }, "Note"), `At ${clock(at)} in the recording`);
  }

  private workOn(card?: Card, row?: Row): Promise<boolean> {
    const of = card && row ? { maneuver: card.id, step: row.step.id } : {};
    return this.ask("work", { text: row ? `${row.step.title}: ${verdictWord(row.step.verdict)}` : "" }, (given) => this.written({ kind: "work-on", text: given.text, ...of }, "To work on next"));
  }

  private setAdding(on: boolean): void {
    this.adding = on;
    byId("add-call").setAttribute("aria-pressed", String(on));
    document.body.classList.toggle("adding", on);
    say(on ? "Click the moment on the strip where the call was made, or press Enter to take the moment that is playing" : "");
    byId("adding-hint").hidden = !on;
  }

  private addCall(at: number, callout = ""): Promise<boolean> {
    this.setAdding(false);
    offer(this.state, this.list[this.current]);
    const known = this.state.callouts.find((c) => c.id === callout);
    const fields = { at: clock(at) + (at % 1 ? `.${Math.floor((at % 1) * 10)}` : ""), callout: known?.title ?? "", unit: known?.unit ?? "" };
    return this.ask("call", fields, (given) => this.written(callOf(given, this.state), `The call “${given.callout}”`));
  }

  /** Takes a change of the history back, whoever made it; brings back one that was taken back. */
  private takeBack(fact: number): Promise<void> {
    return this.tried(async () => {
      const meant = this.state.history.find((c) => c.fact === fact);
      if (!meant) return;
      const how = await this.write({ kind: "undo", undo: fact });
      const short = meant.kind === "undo" ? this.state.history.findLast((c) => c.kind === "undo")!.short : `Taken back: ${meant.short}`;
      notice(how === "saved" ? short : later);
    });
  }

  /** Takes back the last change of who is writing in this tab, and nobody else's. */
  private takeBackOwn(): Promise<void> {
    return this.tried(async () => {
      const by = await this.who();
      if (!by) return;
      await this.server.flush(); // the last change may be on its way
      if (this.server.waiting().some((f) => f.author === by)) {
        notice("Your last change is not saved yet: it can be taken back once it is.");
        return;
      }
      const own = this.state.history.findLast((c) => !c.undone && c.kind !== "undo" && c.author === by);
      if (!own) notice(`${by} has nothing left to take back. What others wrote is taken back under History.`);
      else if ((await this.server.write({ author: by, kind: "undo", undo: own.fact, last: true })) === "saved") notice(`Taken back: ${own.short}`);
      else notice(later);
    });
  }

  // --- the panels ---

  private drawPanels(): void {
    const talk = byId("panel-talk");
    redraw(talk, this.found.length === 0 ? h("p", {}, this.list.length > 0 ? "Nothing in these calls needs talking about." : "Nothing yet.") : h("ol", { class: "finds" }, this.found.map((t, i) => this.find(t, i))));
    byId("tab-talk").textContent = `To talk about (${this.found.length})`;
    const s = this.state;
    byId("tab-notes").textContent = s.notes.length + s.workOn.length > 0 ? `Notes (${s.notes.length + s.workOn.length})` : "Notes";
    redraw(byId("next-list"), s.workOn.length === 0 ? h("li", { class: "none" }, "Nothing set yet.") : s.workOn.map((w) =>
      h("li", { class: w.done ? "done" : null }, h("label", {}, h("input", { type: "checkbox", checked: w.done ?? false, "data-keep": `next-${w.fact}`, onchange: (e: Event) => void this.put({ kind: "work-on", work: w.fact, text: w.text, ...(w.maneuver ? { maneuver: w.maneuver, step: w.step } : {}), done: (e.target as HTMLInputElement).checked }, `“${w.text}”, ${(e.target as HTMLInputElement).checked ? "done" : "not done"}`) }), " ", h("span", {}, w.text)), " ", h("span", { class: "who" }, w.unsaved ? signed(w.author, "", true) : w.author))));
    redraw(byId("note-list"), s.notes.length === 0 ? h("li", { class: "none" }, "No notes yet.") : s.notes.map((n) => {
      const card = this.list.find((c) => c.id === n.maneuver);
      const row = card?.rows.find((r) => r.step.id === n.step);
      const at = n.at ?? row?.at ?? null;
      return h("li", { class: "by-hand" }, at !== null ? h("button", { type: "button", class: "listen", ...plays(`Listen at ${clock(at)}: ${n.text}`), onclick: () => this.hear(at, n.text) }, icon("listen", "glyph"), clock(at)) : null, " ", row ? h("strong", {}, `${row.step.title}: `) : null, n.text, " ", h("span", { class: "who" }, signed(n.author, when(n.written), n.unsaved)));
    }));
    redraw(byId("panel-history"), h("p", { class: "hint" }, "Every change stays on record. Taking one back is a change too. Key u takes back your own last one."), s.history.length === 0 ? h("p", {}, "Nobody has changed anything: this is what the machine said.") : h("ol", { class: "history" }, s.history.toReversed().map((c) => h("li", { class: c.undone ? "undone" : null }, h("span", {}, c.summary), " ", h("span", { class: "who" }, `${c.author}, ${when(c.written)}${c.undone ? ", taken back" : ""}`), " ", !c.undone ? h("button", { type: "button", class: "small", "data-keep": `undo-${c.fact}`, "aria-label": c.kind === "undo" ? `Bring back: ${c.summary}` : `Take back: ${c.summary}`, onclick: () => void this.takeBack(c.fact) }, c.kind === "undo" ? "Bring back" : "Take back") : null))));
    this.which();
  }

  private find(t: Talk, i: number): HTMLElement {
    const f = t.finding;
    const level = severityWord(f.severity);
    return h("li", { class: `find is-${f.severity}`, "aria-current": i === this.talkAt && !this.gone ? "true" : null },
      h("button", { type: "button", class: "find-open", "data-keep": `find-${i}`, onclick: () => this.talk(i) },
        h("span", { class: "level" }, icon(shapeOf(f.kind)), h("strong", {}, level), " ", verdictWord(f.kind), h("span", { class: "find-at" }, f.at !== null ? clock(f.at) : "")),
        h("span", { class: "message" }, f.message)),
      h("p", { class: "find-of" }, t.card.maneuver.title),
      t.row?.hands.filter((x) => !decides(t.row!, x)).map((x) => handView(x)));
  }

  private talk(i: number): void {
    const t = this.found[i];
    if (!t) return;
    this.talkAt = i;
    this.about = t;
    this.gone = false;
    this.goto(t.card, t.finding.step, t.finding.at);
    this.drawPanels();
    say(`${t.card.maneuver.title}. ${t.finding.message}`);
  }

  /** Finds what is being talked about in the list as it is now. While it is no finding,
   * the next one is that which took its place; an overruling may be taken back. */
  private stay(): void {
    const was = this.about;
    if (!was) return;
    const same = this.found.findIndex((t) => t.card.id === was.card.id && t.finding.step === was.finding.step && t.finding.kind === was.finding.kind);
    if (same >= 0) this.talkAt = same;
    else if (!this.gone) this.talkAt--;
    this.gone = same < 0;
    this.talkAt = Math.min(this.talkAt, this.found.length - 1);
  }
  private about: Talk | null = null;
  private gone = false;

  private which(): void {
    const n = this.found.length;
    byId("which").textContent = this.gone || this.talkAt < 0 ? "" : `${this.talkAt + 1} of ${n}`;
  }

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
    const calls = (s.timeline?.calls ?? []).map((c: Call): Item => {
      const title = calloutTitle(c.id, s.callouts);
      const value = figure(c.value, c.unit);
      return { kind: "call", from: c.start, to: c.end, label: value ? `${title} ${value}` : title, hint: `${clock(c.start)}  ${title}${value ? " " + value : ""}${stanceWord(c) ? ", " + stanceWord(c) : ""}: ${c.added_by ? `added by ${c.added_by}` : `“${c.heard}”`}`, faint: !made(c), hand: !!c.added_by, open: () => this.hear(c.start, title) };
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
      return at === undefined || at === null ? [] : [{ kind: "note", from: at, to: at, label: "", shape: "pen", hint: `${clock(at)}  ${n.author}: ${n.text}`, open: () => { this.side.show("notes"); this.hear(at, n.text); } }];
    });
    return [
      ...[...voices].map(([name, items]): Lane => ({ name, kind: "speech", height: 24, items })),
      { name: "Phases", kind: "phase", height: 24, items: phases },
      { name: "Maneuvers", kind: "maneuver", height: 26, items: maneuvers },
      { name: "Calls", kind: "call", height: 32, items: calls },
      { name: "Findings", kind: "finding", height: 24, items: finds },
      { name: "Notes", kind: "note", height: 24, items: notes },
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
    const stretch = card && row && p.half.from === undefined ? stretchOf(card, row, p.duration) : null;
    if (!p.looping && !p.loop && stretch) {
      p.repeat(stretch);
      say(`Repeating ${clock(stretch.from)} to ${clock(stretch.to)}`);
      return;
    }
    p.toggleLoop();
    if (p.looping) p.repeat(p.loop!);
    say(p.looping ? `Repeating ${clock(p.loop!.from)} to ${clock(p.loop!.to)}` : "No longer repeating");
  }

  private mark(end: "from" | "to"): void {
    const p = this.player;
    p.mark(end, p.time);
    if (p.looping) say(`Repeating ${clock(p.loop!.from)} to ${clock(p.loop!.to)}`);
    else notice(end === "from" ? `The stretch to repeat begins at ${clock(p.time)}. Press ] where it ends.` : `The stretch to repeat ends at ${clock(p.time)}. Press [ where it begins.`);
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
    const line = this.words.follow(p.time, p.playing);
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
      { keys: ["["], shown: "[", does: "the stretch to repeat begins here", run: () => this.mark("from") },
      { keys: ["]"], shown: "]", does: "… and ends here; with both set it repeats", run: () => this.mark("to") },
      { keys: ["l"], shown: "l", does: "repeat the stretch, or stop repeating", run: () => this.loop() },
      { keys: ["n"], shown: "n", does: "next thing to talk about", run: () => this.talk(Math.min(this.talkAt + 1, this.found.length - 1)) },
      { keys: ["p"], shown: "p", does: "the one before", run: () => this.talk(Math.max(this.gone ? this.talkAt : this.talkAt - 1, 0)) },
      { keys: ["ArrowDown", "j"], shown: "↓", does: "next step of the card", run: () => this.move(1) },
      { keys: ["ArrowUp", "k"], shown: "↑", does: "step before", run: () => this.move(-1) },
      { keys: ["m"], shown: "m", does: "next maneuver", run: () => this.open((this.current + 1) % Math.max(1, this.list.length)) },
      { keys: ["a"], shown: "a", does: "agree with the verdict of the open step", run: () => this.onStep((c, r) => void this.verdict(c, r, "accept")) },
      { keys: ["o"], shown: "o", does: "overrule it", run: () => this.onStep((c, r) => void this.overrule(c, r)) },
      { keys: ["g"], shown: "g", does: "mark it “come back to this”", run: () => this.onStep((c, r) => void this.verdict(c, r, "listen-again")) },
      { keys: ["c"], shown: "c", does: "add a call that was not heard", run: () => this.setAdding(!this.adding) },
      { keys: ["Enter"], shown: "Enter", does: "… at the moment that is playing", first: () => this.adding, run: () => { if (this.adding) void this.addCall(p.time); } },
      { keys: ["t"], shown: "t", does: "write a note at this moment", run: () => void this.noteAt(p.time) },
      { keys: ["w"], shown: "w", does: "set what to work on next", run: () => void this.workOn() },
      { keys: ["u", "Ctrl+z"], shown: "u", does: "take back your own last change", run: () => void this.takeBackOwn() },
      { keys: ["+", "="], shown: "+", does: "zoom in", run: () => this.strip.zoom(1.6) },
      { keys: ["-"], shown: "−", does: "zoom out", run: () => this.strip.zoom(1 / 1.6) },
      { keys: ["0"], shown: "0", does: "the whole lesson", run: () => this.strip.showWhole() },
      { keys: ["1"], shown: "1 2 3 4", does: "to talk about, words, notes, history", run: () => this.side.show("talk") },
      { keys: ["2"], shown: "", does: "", run: () => this.side.show("words") },
      { keys: ["3"], shown: "", does: "", run: () => this.side.show("notes") },
      { keys: ["4"], shown: "", does: "", run: () => this.side.show("history") },
      { keys: ["Escape"], shown: "Esc", does: "leave what was begun", run: () => (this.adding ? this.setAdding(false) : p.forget() || this.side.shut()) },
      { keys: [], shown: "Ctrl+Enter", does: "in a form: save it", run: () => undefined },
      { keys: ["?"], shown: "?", does: "show or hide these keys", run: () => byId<HTMLDialogElement>("keys").showModal() },
    ];
    bindKeys(list);
    letters(byId<HTMLInputElement>("letters"));
    byId("key-list").replaceChildren(...list.filter((k) => k.shown).map((k) => h("div", {}, h("dt", {}, h("kbd", {}, k.shown)), h("dd", {}, k.does))));
    byId("keys").addEventListener("keydown", (e) => {
      if (e.key === "?") byId<HTMLDialogElement>("keys").close();
    });
  }

  private onStep(f: (c: Card, r: Row) => void): void {
    const c = this.list[this.current];
    const r = c?.rows.find((x) => x.step.id === this.step);
    if (c && r) f(c, r);
    else notice("Open a step of the card first: click it, or press ↓.");
  }

  private move(by: number): void {
    const rows = this.list[this.current]?.rows ?? [];
    const i = rows.findIndex((r) => r.step.id === this.step);
    const row = rows[i < 0 ? (by > 0 ? 0 : rows.length - 1) : Math.min(Math.max(i + by, 0), rows.length - 1)];
    if (!row || row.step.id === this.step) return;
    this.select(row.step.id);
    const button = byId("card").querySelector<HTMLElement>(`[data-keep="step-${CSS.escape(row.step.id)}"]`);
    button?.focus({ preventScroll: true });
    this.bringStep(row.step.id);
  }
}

const verdictField = document.querySelector<HTMLSelectElement>("#overrule select");
verdictField?.replaceChildren(...choices.map((v) => h("option", { value: v }, verdictWord(v))));

const view = new View();
view.start().catch((e: unknown) => {
  byId("trouble").replaceChildren(h("p", {}, `The lesson could not be opened: ${reasonOf(e)}. Is the desk's program running? `, h("a", { href: location.href }, "Try again"), "."));
});
