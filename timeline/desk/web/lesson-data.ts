// What the page asks of a lesson's state, worked out once per change.
import { clock } from "./dom";
import type { Call, Finding, Hand, Maneuver, Note, State, Step, Word } from "./types";

/** A step with what the machine and people said of it. */
export interface Row {
  step: Step;
  machine: Step | undefined; // as the machine alone said it
  hand: Hand | undefined; // the last word of a person
  hands: Hand[]; // of each person the last
  call: Call | undefined;
  finding: Finding | undefined;
  notes: Note[];
  at: number | null; // where to listen
}

export interface Card {
  id: string;
  number: number;
  maneuver: Maneuver;
  rows: Row[];
  uncalled: string[];
}

export interface Line {
  start: number;
  end: number;
  speaker: string;
  channel: number;
  words: Word[];
}

/** Names a maneuver in facts: its procedure, and which attempt at it this is. */
export function maneuverIds(list: Maneuver[]): string[] {
  const seen = new Map<string, number>();
  return list.map((m) => {
    const n = (seen.get(m.procedure) ?? 0) + 1;
    seen.set(m.procedure, n);
    return `${m.procedure}/${n}`;
  });
}

export function cards(state: State): Card[] {
  const tl = state.timeline;
  if (!tl) return [];
  const machine = new Map<string, Maneuver>();
  const alone = (state.machine ?? tl).maneuvers;
  maneuverIds(alone).forEach((id, i) => machine.set(id, alone[i]!));
  return maneuverIds(tl.maneuvers).map((id, i) => {
    const maneuver = tl.maneuvers[i]!;
    const rows: Row[] = [];
    const uncalled: string[] = [];
    for (const step of maneuver.steps) {
      const hands = state.hands.filter((x) => x.maneuver === id && x.step === step.id);
      const hand = hands.at(-1);
      const notes = state.notes.filter((x) => x.maneuver === id && x.step === step.id);
      if (step.waived && !hand && notes.length === 0) {
        if (step.waived !== "aircraft") uncalled.push(step.title);
        continue;
      }
      const finding = maneuver.findings.find((f) => f.step === step.id && f.kind !== "corrected") ?? maneuver.findings.find((f) => f.step === step.id);
      rows.push({
        step,
        machine: machine.get(id)?.steps.find((x) => x.id === step.id),
        hand,
        hands,
        call: step.call === null ? undefined : tl.calls[step.call],
        finding,
        notes,
        at: step.at ?? finding?.at ?? step.person?.at ?? null,
      });
    }
    return { id, number: i + 1, maneuver, rows, uncalled };
  });
}

/** The verdict that counts, everywhere: the server settles it (logbook.Settle). */
export function verdictOf(row: Row): string {
  return row.step.verdict;
}

/** What the machine says of a step by itself; "" where it did not find the maneuver. */
export function machineSays(row: Row): string {
  return row.step.person ? row.step.person.was : row.step.verdict;
}

/** Whether a hand is the one that decides the verdict. */
export function decides(row: Row, hand: Hand): boolean {
  const p = row.step.person;
  return hand.hand === "overrule" && !hand.unsaved && p?.how === "overruled" && p.author === hand.author;
}

/** What an author has said of a step; undefined where another's verdict came after it: said
 * again it may count. */
export function ownHand(row: Row, author: string): Hand | undefined {
  const i = row.hands.findIndex((x) => x.author === author);
  const own = row.hands[i];
  if (!own || own.hand === "listen-again") return own;
  return row.hands.slice(i + 1).some((x) => x.hand !== "listen-again") ? undefined : own;
}

/** The stretch to listen to for a step: its call, and any other call the finding on it
 * holds it against ("trim set at 0:21 came before power back at 0:24"). */
export function stretchOf(card: Card, row: Row, duration: number): { from: number; to: number } | null {
  if (row.at === null) return null;
  const says = (row.finding?.message ?? row.step.reason).toLowerCase();
  const named = card.rows.filter((r) => r === row || (r.step.at !== null && says.includes(`${r.step.title.toLowerCase()} at ${clock(r.step.at)}`)));
  return {
    from: Math.max(0, Math.min(...named.map((r) => r.at ?? row.at!)) - 1),
    to: Math.min(duration, Math.max(...named.map((r) => r.call?.end ?? (r.at ?? row.at!) + 4)) + 1),
  };
}

const rank = { safety: 0, important: 1, note: 2 };

export interface Talk {
  card: Card;
  row: Row | undefined;
  finding: Finding;
}

/** Everything to talk about, the most serious first. */
export function talks(list: Card[]): Talk[] {
  return list
    .flatMap((card) => card.maneuver.findings.map((finding) => ({ card, finding, row: card.rows.find((r) => r.step.id === finding.step) })))
    .sort((a, b) => rank[a.finding.severity] - rank[b.finding.severity] || (a.finding.at ?? 0) - (b.finding.at ?? 0));
}

/** The words in the lines they were spoken in. */
export function lines(state: State): Line[] {
  const said = state.timeline?.transcript ?? [];
  const out: Line[] = [];
  const open = new Map<number, { line: Line; utterance: number }>();
  const byChannel = new Map<number, number[]>();
  said.forEach((u, i) => {
    if (!byChannel.has(u.channel)) byChannel.set(u.channel, []);
    byChannel.get(u.channel)!.push(i);
  });
  const next = new Map<number, number>();
  for (const w of state.words) {
    const own = byChannel.get(w.channel) ?? [];
    let k = next.get(w.channel) ?? 0;
    while (k + 1 < own.length && said[own[k + 1]!]!.start <= w.start + 0.01) k++;
    next.set(w.channel, k);
    const utterance = own[k] ?? -1;
    const last = open.get(w.channel);
    if (last && last.utterance === utterance && last.line.speaker === w.speaker) {
      last.line.words.push(w);
      last.line.end = w.end;
      continue;
    }
    const line: Line = { start: w.start, end: w.end, speaker: w.speaker, channel: w.channel, words: [w] };
    open.set(w.channel, { line, utterance });
    out.push(line);
  }
  return out.sort((a, b) => a.start - b.start);
}

export function speakerName(speaker: string, channel: number, channels: number): string {
  if (speaker) return speaker.replace(/^./, (c) => c.toUpperCase());
  return channels > 1 ? `Channel ${channel + 1}` : "";
}
