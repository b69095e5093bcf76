// A lesson with what was written and could not be sent yet, marked as not saved.
import type { Fact, Hand, Note, State, WorkOn } from "./types";

export function withWaiting(state: State, waiting: Fact[]): State {
  if (waiting.length === 0) return state;
  const s: State = { ...state, hands: [...state.hands], notes: [...state.notes], workOn: [...state.workOn], words: state.words };
  const now = new Date().toISOString();
  for (const [i, f] of waiting.entries()) {
    const same = { fact: -1 - i, author: f.author, unsaved: true };
    const of = f as unknown as { work?: number; word?: number; text: string; done?: boolean };
    switch (f.kind) {
      case "verdict":
        // It does not count before the server has it: which verdict counts, it settles.
        s.hands = s.hands.filter((x) => x.author !== f.author || x.maneuver !== f.maneuver || x.step !== f.step);
        s.hands.push({ ...(f as unknown as Hand), ...same, at: now });
        break;
      case "note":
        s.notes.push({ ...(f as unknown as Note), ...same, written: now });
        break;
      case "work-on":
        if (of.work === undefined) s.workOn.push({ ...(f as unknown as WorkOn), ...same });
        else s.workOn = s.workOn.map((w) => (w.fact === of.work ? { ...w, text: of.text, done: of.done ?? false, unsaved: true } : w));
        break;
      case "word":
        s.words = s.words.map((w) => (w.n === of.word ? { ...w, text: of.text, was: w.was ?? w.text, by: f.author, unsaved: true } : w));
    }
  }
  return s;
}

/** Whose hand it is, and when it was written: "Robin, 27 Nov, 05:36". */
export const signed = (author: string, written: string, unsaved = false): string => `${author}, ${unsaved ? "not saved yet" : written}`;
