// How good the recording is, said at the top only where it is not.
import { plural } from "./words-for";
import type { Timeline } from "./types";

const noisy = 12; // dB of voice above noise, as in audio/advice.go
const clipped = 0.01; // of the speech cut off at the top, as there

export function quality(recording: Timeline["recording"] | undefined): string {
  if (!recording) return "";
  if (recording.poor) return `Too poor a recording to judge anybody by: ${recording.poor}.`;
  const heard = (recording.levels ?? []).filter((l) => l.listened);
  const worst = heard.filter((l) => l.snr !== null && l.snr < noisy).sort((a, b) => a.snr! - b.snr!)[0];
  const where = (name: string) => (heard.length > 1 ? ` on ${name}` : "");
  if (worst) return `A noisy recording: the voices${where(worst.name)} are ${plural(Math.round(worst.snr!), "decibel")} above the noise, so some calls will not have been heard.`;
  const cut = heard.find((l) => l.clipped >= clipped);
  return cut ? `Recorded too loud${where(cut.name)}: ${Math.round(cut.clipped * 100)} % of the speech is cut off, so some calls will not have been heard.` : "";
}
