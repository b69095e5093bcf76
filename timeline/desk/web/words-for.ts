// The words for what is judged, the same as on the page that is handed on.
import type { Call, Finding, HandKind, Verdict } from "./types";

type Severity = Finding["severity"];

const verdicts: Record<string, string> = {
  "heard": "heard",
  "not-heard": "not heard",
  "out-of-order": "out of order",
  "late": "late",
  "off-value": "off value",
  "unsure": "unsure: listen here",
  "not-applicable": "not applicable",
  "corrected": "corrected",
};

export const verdictWord = (v: string): string => verdicts[v] ?? "unsure: listen here";
export const shapeOf = (v: string): string => (v in verdicts && v !== "not-applicable" ? v : v === "not-applicable" ? "waived" : "unsure");

const severities: Record<Severity, string> = { safety: "Safety", important: "Important", note: "Note" };
export const severityWord = (s: Severity): string => severities[s];

export const handWord: Record<HandKind, string> = {
  "accept": "agreed",
  "overrule": "overruled",
  "listen-again": "come back to this",
};

/** What an instructor may say instead of the machine. */
export const choices: Verdict[] = ["heard", "not-heard", "out-of-order", "late", "off-value", "unsure", "not-applicable"];

const thousands = (v: number): string => (Number.isInteger(v) ? v.toLocaleString("en-US") : String(v));

/** 1700 rpm is "1,700 rpm", 270 degrees "270°". */
export function figure(value: number | null | undefined, unit: string | undefined): string {
  if (value === null || value === undefined) return "";
  if (unit === "deg") return `${value}°`;
  return unit ? `${thousands(value)} ${unit}` : thousands(value);
}

const spaced = (id: string): string => id.replaceAll("-", " ");

export function calloutTitle(id: string, callouts: { id: string; title: string }[]): string {
  return callouts.find((c) => c.id === id)?.title ?? spaced(id).replace(/^./, (c) => c.toUpperCase());
}

/** A call that was made, not spoken of. */
export const made = (c: Call): boolean => c.stance === "done" || c.stance === "";
export const stanceWord = (c: Call): string => (made(c) ? "" : spaced(c.stance));

export const plural = (n: number, one: string, many = one + "s"): string => `${n} ${n === 1 ? one : many}`;
