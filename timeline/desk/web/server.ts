// Talking with the desk's server. A change that could not be sent stays in the
// browser under its own key and is sent again until the server has it: the server
// takes each key once, so sending twice does no harm. Several tabs may try.
import { byId, h, redraw, say } from "./dom";
import { plural } from "./words-for";
import type { Fact, State } from "./types";

const meta = (name: string): HTMLMetaElement | null => document.querySelector(`meta[name="${name}"]`);

/** A refusal: sending the same again would not help. */
export class Refused extends Error {}

/** Sends with the page's token; a server that was restarted has another, so it is asked for once. */
export async function post(url: string, body: BodyInit, type?: string, within?: number): Promise<Response> {
  const signal = () => (within ? AbortSignal.timeout(within) : null);
  const send = () => {
    const headers: Record<string, string> = { "X-Sidetone-Token": meta("sidetone-token")?.content ?? "" };
    if (type) headers["Content-Type"] = type;
    return fetch(url, { method: "POST", headers, body, signal: signal() });
  };
  let answer = await send();
  if (answer.status === 403) {
    const page = new DOMParser().parseFromString(await (await fetch(location.href, { signal: signal() })).text(), "text/html");
    const fresh = page.querySelector<HTMLMetaElement>('meta[name="sidetone-token"]');
    if (fresh) meta("sidetone-token")?.setAttribute("content", fresh.content);
    answer = await send();
  }
  if (answer.ok) return answer;
  let why = `the desk answered ${answer.status}`;
  try {
    why = ((await answer.json()) as { error: string }).error || why;
  } catch {
    // the answer has no words of its own
  }
  const later = answer.status >= 500 || [401, 403, 408, 429].includes(answer.status);
  throw later ? new Error(why) : new Refused(why);
}

/** A new key (RFC 9562, version 4); crypto.randomUUID is not there without TLS. */
function newKey(): string {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6]! & 0x0f) | 0x40;
  b[8] = (b[8]! & 0x3f) | 0x80;
  const hex = Array.from(b, (v) => v.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** What became of a change: the server has it, or it waits in this browser. */
export type Outcome = "saved" | "waiting";

const soon = 1000; // ms
const answerWithin = 20_000; // ms; a connection to a program that was killed may hang, and the next try does not
const anew = 3000; // ms until events that a browser gave up are asked for again
const patience = 4000; // ms for an answer before a change is called waiting

export class Lesson {
  private prefix: string;
  private trying: Promise<void> | null = null;
  private lost = false;
  private unheard = false; // there is more to come that is no change of people's
  private changed: (s: State) => void;
  private settle = new Map<string, (how: Outcome | Refused) => void>(); // by key, for who waits for it
  private told = "";

  constructor(
    readonly id: string,
    changed: (s: State) => void,
    private waits: () => void, // called when what waits has changed
  ) {
    this.changed = (s) => {
      this.unheard = !!s.progress || !s.sound;
      changed(s);
    };
    this.prefix = `sidetone.waiting.${id}.`;
    window.addEventListener("storage", () => this.tell());
    setInterval(() => void this.flush(), 2000);
  }

  async load(): Promise<State> {
    const answer = await fetch(`/lessons/${this.id}/state`);
    if (!answer.ok) throw new Error(`the desk answered ${answer.status}`);
    const state = (await answer.json()) as State;
    this.changed(state);
    return state;
  }

  /** Keeps the change in the browser, then sends it: says whether the server has it, or
   * throws what it was refused for. */
  async write(fact: Omit<Fact, "key">): Promise<Outcome> {
    const whole = { key: newKey(), ...fact };
    localStorage.setItem(this.prefix + whole.key, JSON.stringify({ order: Date.now(), fact: whole }));
    const known = new Promise<Outcome | Refused>((resolve) => {
      this.settle.set(whole.key, resolve);
      setTimeout(() => resolve("waiting"), patience);
    });
    void this.flush();
    const how = await known;
    this.settle.delete(whole.key);
    this.tell();
    if (how instanceof Refused) throw how;
    return how;
  }

  waiting(): Fact[] {
    return this.kept().map((w) => w.fact);
  }

  /** What is to be shown as not saved: not what is just being sent. */
  held(): Fact[] {
    return this.kept()
      .filter((w) => this.lost || w.order < Date.now() - soon)
      .map((w) => w.fact);
  }

  private kept(): { order: number; fact: Fact }[] {
    const list: { order: number; fact: Fact }[] = [];
    for (let i = 0; i < localStorage.length; i++) {
      const name = localStorage.key(i);
      if (name?.startsWith(this.prefix)) list.push(JSON.parse(localStorage.getItem(name) ?? "null"));
    }
    return list.filter((w) => w?.fact).sort((a, b) => a.order - b.order);
  }

  /** Sends what waits, oldest first; resolves when nothing more can be sent. */
  flush(): Promise<void> {
    return (this.trying ??= this.sendAll());
  }

  private async sendAll(): Promise<void> {
    await Promise.resolve(); // trying is set by now
    try {
      for (let list = this.waiting(); list.length > 0; list = this.waiting()) {
        const fact = list[0]!;
        try {
          const answer = await post(`/lessons/${this.id}/facts`, JSON.stringify(fact), "application/json", answerWithin);
          localStorage.removeItem(this.prefix + fact.key);
          this.lost = false;
          this.changed((await answer.json()) as State);
          this.settle.get(fact.key)?.("saved");
        } catch (e) {
          if (!(e instanceof Refused)) {
            this.lost = true;
            for (const resolve of this.settle.values()) resolve("waiting");
            break;
          }
          localStorage.removeItem(this.prefix + fact.key);
          const asked = this.settle.get(fact.key);
          if (asked) asked(e);
          else this.complain(`This was not taken: ${e.message}`);
        }
      }
    } finally {
      this.trying = null;
      this.tell();
    }
  }

  /** Follows what others change, and what recognition does. */
  follow(revision: () => number, progress: (p: State["progress"]) => void): void {
    const events = new EventSource("/events");
    events.addEventListener("open", () => {
      const wasLost = this.lost;
      this.lost = false;
      this.tell();
      void this.flush();
      if (wasLost) void this.load().catch(() => undefined);
    });
    events.addEventListener("error", () => {
      this.lost = true;
      this.tell();
      // A browser asks again by itself, unless it was answered with anything but events.
      if (events.readyState === EventSource.CLOSED) setTimeout(() => this.follow(revision, progress), anew);
    });
    events.addEventListener("lesson", (e) => {
      const m = JSON.parse((e as MessageEvent<string>).data) as { id: string; revision: number };
      if (String(m.id) === this.id && (m.revision > revision() || this.unheard)) void this.load().catch(() => undefined);
    });
    events.addEventListener("removed", (e) => {
      if (String((JSON.parse((e as MessageEvent<string>).data) as { id: string }).id) === this.id) this.complain("This lesson was removed from the library.");
    });
    events.addEventListener("progress", (e) => {
      const m = JSON.parse((e as MessageEvent<string>).data) as { id: string; stage: string; done: number; of: number };
      if (String(m.id) === this.id) progress(m);
    });
    window.addEventListener("pagehide", () => events.close(), { once: true });
  }

  complain(text: string): void {
    byId("trouble").replaceChildren(h("p", {}, text, " ", h("button", { type: "button", onclick: () => byId("trouble").replaceChildren() }, "Close")));
  }

  /** The line that says what is not saved yet. */
  private tell(): void {
    const list = this.held();
    const n = list.length;
    const keys = list.map((f) => f.key).join();
    if (keys !== this.told) {
      this.told = keys;
      this.waits();
    }
    const box = byId("unsaved");
    const text = !this.lost && n === 0 ? "" : n > 0
      ? `${plural(n, "change")} not saved yet, kept in this browser${this.lost ? ": the desk's program does not answer. Start it again and they are saved" : ""}.`
      : "The desk's program does not answer. Start it again; what you write meanwhile is kept in this browser.";
    if (box.textContent === text) return;
    if (text === "" && box.textContent!.includes("not saved")) say("All of it is saved now");
    redraw(box, text);
    box.hidden = text === "";
  }
}
