// Everything that was said. Lines far from view cost nothing (content-visibility),
// and they are made a batch at a time, so that hours of talk open at once.
import { clock, h, icon, plays, redraw } from "./dom";
import { speakerName, type Line } from "./lesson-data";
import { calloutTitle, made, stanceWord } from "./words-for";
import type { Call, State, Word } from "./types";

export interface WordsHand {
  hear(at: number, what: string): void;
  correct(word: Word, text: string): void;
  loop(from: number, to: number): void;
  writing(): void; // somebody begins to write
}

const batch = 60;
const handsOff = 5000; // ms a list that a person moved is left alone
const doubtful = 0.5; // below this confidence a word is marked

export class WordsView {
  private list = h("ol", { class: "said-lines" });
  private more = h("div", { class: "more" });
  private lines: Line[] = [];
  private shown = 0;
  private editing = -1;
  private state: State | null = null;
  private now = -1;
  private callsAt: Call[] = [];
  private filter = "";
  private field = h("input", { type: "search", id: "find-words", placeholder: "for example: carb heat", "aria-label": "Find words" });
  private none = h("p", { class: "hint", role: "status" });
  private moved = -Infinity; // when a person moved the list

  constructor(
    private box: HTMLElement,
    private act: WordsHand,
  ) {
    for (const what of ["wheel", "touchmove", "pointermove", "pointerdown", "keydown"]) this.box.addEventListener(what, () => (this.moved = performance.now()), { passive: true });
    const watch = new IntersectionObserver((e) => e.some((x) => x.isIntersecting) && this.grow(), { rootMargin: "600px" });
    watch.observe(this.more);
    this.field.addEventListener("input", () => {
      this.filter = this.field.value.trim().toLowerCase();
      this.reset();
    });
    redraw(this.box, h("p", { class: "hint" }, "A word or a time plays from there. Calls are underlined, doubtful words dotted. “Correct” lets you write what was really said: the verdicts follow at once."), h("p", { class: "finder" }, h("label", { for: "find-words" }, "Find"), " ", this.field), this.none, this.list, this.more);
  }

  show(state: State, lines: Line[]): void {
    this.state = state;
    const same = this.lines.length === lines.length;
    this.lines = lines;
    this.callsAt = state.timeline?.calls ?? [];
    if (same && this.editing < 0 && this.shown > 0 && !this.filter) {
      // Only what changed is made anew.
      const old = [...this.list.children] as HTMLElement[];
      for (const e of old) {
        const i = Number(e.dataset.line);
        const fresh = this.row(i);
        if (fresh.dataset.is === e.dataset.is) continue;
        const focus = e.contains(document.activeElement) ? (document.activeElement as HTMLElement).dataset.keep : undefined;
        e.replaceWith(fresh);
        if (focus) fresh.querySelector<HTMLElement>(`[data-keep="${focus}"]`)?.focus({ preventScroll: true });
      }
      return;
    }
    if (this.editing < 0) this.reset();
  }

  private reset(): void {
    this.shown = 0;
    this.list.replaceChildren();
    this.grow();
    this.none.textContent = this.filter && this.list.children.length === 0 ? `Nobody said “${this.field.value.trim()}”.` : "";
  }

  private grow(): void {
    let n = 0;
    const rows: HTMLElement[] = [];
    for (; this.shown < this.lines.length && n < batch; this.shown++) {
      if (this.filter && !this.lines[this.shown]!.words.map((w) => w.text).join(" ").toLowerCase().includes(this.filter)) continue;
      rows.push(this.row(this.shown));
      n++;
    }
    this.list.append(...rows);
    this.more.hidden = this.shown >= this.lines.length;
    // The mark may still be in view: look again once the rows have their place.
    if (!this.more.hidden) requestAnimationFrame(() => this.more.getBoundingClientRect().top < innerHeight + 600 && this.more.offsetParent !== null && this.grow());
  }

  private callOf(w: Word): Call | undefined {
    const mid = (w.start + w.end) / 2;
    let lo = 0;
    let hi = this.callsAt.length;
    while (lo < hi) {
      const m = (lo + hi) >> 1;
      if (this.callsAt[m]!.start <= mid + 0.01) lo = m + 1;
      else hi = m;
    }
    for (let i = lo - 1; i >= 0 && i > lo - 6; i--) if (mid <= this.callsAt[i]!.end + 0.01) return this.callsAt[i];
    return undefined;
  }

  private row(i: number): HTMLElement {
    const line = this.lines[i]!;
    const text = line.words.map((w) => w.text).join(" ");
    const calls = line.words.map((w) => this.callOf(w));
    const is = text + calls.map((c) => (c ? c.id + c.stance : "")).join("|") + line.words.map((w) => (w.by ?? "") + (w.unsaved ?? "")).join("") + document.body.className.includes("silent");
    const words: (Node | string)[] = [];
    line.words.forEach((w, k) => {
      const c = calls[k];
      const kinds = [c ? (made(c) ? "call" : "call aside") : w.confidence < doubtful ? "doubt" : "", w.by ? "put-right" : ""].join(" ").trim();
      const hint = [c ? calloutTitle(c.id, this.state?.callouts ?? []) + (stanceWord(c) ? `, ${stanceWord(c)}` : "") : "", w.by ? `${w.by} wrote this; the machine heard “${w.was}”` : ""].filter(Boolean).join(". ");
      words.push(h("span", { class: kinds || null, "data-w": k, title: hint || null }, w.text), " ");
    });
    const changed = line.words.filter((w) => w.by);
    const who = speakerName(line.speaker, line.channel, this.state?.timeline?.recording.channels ?? 1);
    const row = h(
      "li",
      { "data-line": i, class: i === this.now ? "now" : null },
      h("button", { type: "button", class: "listen", ...plays(`Listen at ${clock(line.start)}: ${text}`), onclick: () => this.act.hear(line.start, text) }, icon("listen", "glyph"), clock(line.start)),
      h("div", { class: "line-words", onclick: (e: MouseEvent) => {
        const k = (e.target as HTMLElement).dataset.w;
        if (k !== undefined) this.act.hear(line.words[Number(k)]!.start, text);
      } }, who ? h("b", {}, who, " ") : null, words, changed.length > 0 ? h("span", { class: "by-hand" }, icon("pen"), `${changed.at(-1)!.by}${changed.some((w) => w.unsaved) ? ", not saved yet" : ""}; the machine heard “${changed.map((w) => w.was).join(" ")}”`) : null),
      h("span", { class: "line-acts" },
        h("button", { type: "button", class: "small", "data-keep": `correct-${i}`, "aria-label": `Correct the words at ${clock(line.start)}`, onclick: () => this.edit(i) }, "Correct"),
      ),
    );
    row.dataset.is = is;
    return row;
  }

  private get seen(): boolean {
    return this.box.offsetParent !== null;
  }

  /** Scrolls the list, and nothing else, so that the line being said is in its middle. */
  keepUp(): void {
    const row = this.list.querySelector<HTMLElement>(`[data-line="${this.now}"]`);
    if (!row || !this.seen || this.editing >= 0 || performance.now() - this.moved < handsOff) return;
    const list = this.box.getBoundingClientRect();
    const at = row.getBoundingClientRect();
    if (at.top < list.top + 30 || at.bottom > list.bottom - 30) this.box.scrollTop += (at.top + at.bottom - list.top - list.bottom) / 2;
  }

  private edit(i: number): void {
    const line = this.lines[i]!;
    const old = this.list.querySelector<HTMLElement>(`[data-line="${i}"]`);
    if (!old) return;
    this.editing = i;
    this.act.writing();
    const fields = line.words.map((w, k) => h("input", { type: "text", value: w.text, size: Math.max(w.text.length, 2), "aria-label": `Word ${k + 1}, heard as ${w.text}`, spellcheck: "false", autocomplete: "off" }));
    const close = () => {
      this.editing = -1;
      form.replaceWith(this.row(i));
      this.list.querySelector<HTMLElement>(`[data-keep="correct-${i}"]`)?.focus();
    };
    const form = h(
      "li",
      { "data-line": i, class: "editing" },
      h("form", { onsubmit: (e: Event) => {
        e.preventDefault();
        close();
        fields.forEach((f, k) => {
          const text = f.value.trim();
          if (text !== line.words[k]!.text) this.act.correct(line.words[k]!, text);
        });
      }, onkeydown: (e: KeyboardEvent) => {
        if (e.key === "Escape") { e.preventDefault(); e.stopPropagation(); close(); }
      } },
        h("p", { class: "fields" }, fields),
        h("p", { class: "hint" }, "Empty a word that was not said; put two words into one field if one was missed."),
        h("p", { class: "buttons" }, h("button", { type: "submit", class: "main small" }, "Save"), h("button", { type: "button", class: "small", onclick: close }, "Leave as it was"), h("button", { type: "button", class: "small", onclick: () => this.act.loop(line.start - 0.3, line.end + 0.3) }, "Repeat the sound"))),
    );
    old.replaceWith(form);
    fields[0]?.focus();
  }

  /** Marks the line that is being said, and gives it; while the sound plays the list goes
   * along, unless somebody has just moved it. */
  follow(t: number, playing: boolean): Line | undefined {
    let lo = 0;
    let hi = this.lines.length;
    while (lo < hi) {
      const m = (lo + hi) >> 1;
      if (this.lines[m]!.start <= t) lo = m + 1;
      else hi = m;
    }
    const i = lo - 1;
    const line = this.lines[i];
    const here = line && t <= line.end + 1.5 ? i : -1;
    if (here !== this.now) {
      this.list.querySelector(".now")?.classList.remove("now");
      this.now = here;
      while (here >= this.shown && this.shown < this.lines.length && playing && this.seen) this.grow();
      this.list.querySelector(`[data-line="${here}"]`)?.classList.add("now");
      if (playing) this.keepUp();
    }
    return here < 0 ? undefined : line;
  }
}
