// What the desk's server says of a lesson (timeline/desk/api.go). Times are seconds
// from the start of the recording.

export type Verdict = "heard" | "not-heard" | "out-of-order" | "late" | "off-value" | "unsure" | "not-applicable";

export interface Step {
  id: string;
  title: string;
  phase?: string;
  verdict: Verdict;
  waived: string;
  prompted: boolean;
  at: number | null;
  call: number | null;
  value: number | null;
  confidence: number;
  reason: string;
  person?: Person; // who decided the verdict in place of the machine
}

/** What a person decided of a step; was is the verdict of the machine alone, "" where it did not find the maneuver. */
export interface Person {
  author: string;
  how: "overruled" | "added";
  was: Verdict | "";
  reason: string;
  at: number | null; // of what the machine found wrong
}

export interface Finding {
  step: string;
  kind: string;
  severity: "safety" | "important" | "note";
  at: number | null;
  message: string;
  reference: string;
}

export interface Maneuver {
  procedure: string;
  title: string;
  start: number;
  end: number;
  abandoned: { at: number; reason: string } | null;
  steps: Step[];
  findings: Finding[];
  remarks: string[];
}

export interface Call {
  id: string;
  start: number;
  end: number;
  speaker: string;
  stance: string;
  value: number | null;
  unit: string;
  confidence: number;
  heard: string;
  added_by?: string; // the person who says it was made; it was not heard then
  expected?: boolean; // its words alone would not tell it: a procedure misses it there
}

export interface Utterance {
  start: number;
  end: number;
  channel: number;
  speaker: string;
  text: string;
}

/** What was measured of a channel; snr is how far the voices lie above the noise, in dB. */
export interface Level {
  name: string;
  listened: boolean;
  snr: number | null;
  clipped: number;
}

export interface Timeline {
  recording: { file: string; duration: number; channels: number; poor?: string; levels?: Level[] };
  transcript: Utterance[];
  calls: Call[];
  maneuvers: Maneuver[];
}

export interface Word {
  n: number;
  text: string;
  start: number;
  end: number;
  confidence: number;
  channel: number;
  speaker: string;
  was?: string;
  by?: string;
  unsaved?: boolean; // written in this browser, not sent yet
}

export type HandKind = "accept" | "overrule" | "listen-again";

export interface Hand {
  fact: number;
  maneuver: string;
  step: string;
  hand: HandKind;
  verdict?: Verdict;
  reason?: string;
  author: string;
  at: string;
  unsaved?: boolean;
}

export interface Note {
  fact: number;
  at?: number | null;
  maneuver?: string;
  step?: string;
  text: string;
  author: string;
  written: string;
  unsaved?: boolean;
}

export interface WorkOn {
  fact: number;
  text: string;
  maneuver?: string;
  step?: string;
  author: string;
  done?: boolean;
  unsaved?: boolean;
}

export interface AddedCall {
  fact: number;
  callout: string;
  value?: number | null;
  unit?: string;
  at: number;
  speaker?: string;
  author: string;
}

export interface Callout {
  id: string;
  title: string;
  unit?: string;
}

export interface Change {
  fact: number;
  kind: string;
  author: string;
  written: string;
  summary: string;
  short: string;
  undone: boolean;
}

export interface State {
  id: string;
  title: string;
  date: string;
  student: string;
  instructor: string;
  aircraft: string;
  aircrafts: string[];
  duration: number;
  revision: number;
  sound: string;
  peaks: string;
  words: Word[];
  timeline: Timeline | null;
  machine?: Timeline | null;
  hands: Hand[];
  notes: Note[];
  workOn: WorkOn[];
  added: AddedCall[];
  history: Change[];
  callouts: Callout[];
  asked: Record<string, { step: string; callouts: string[] }[]>; // by procedure
  progress?: { stage: string; done: number; of: number } | null;
  missing?: { name: string; lastSeen: string };
  remarks?: string[];
  trouble?: string;
}

export interface Peaks {
  perSecond: number;
  peaks: [number, number][];
}

/** A change as it is sent: the server appends it under its key, once. */
export type Fact = { key: string; kind: string; author: string } & Record<string, unknown>;
