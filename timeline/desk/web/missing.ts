// A lesson whose recording is not found: which file, where it was, and how it comes back.
import { byId, h, reasonOf, redraw } from "./dom";
import { post } from "./server";
import type { State } from "./types";

/** Says it in place of the waveform; found is called when the recording is back. */
export class Missing {
  private now: State["missing"];
  private said = "";

  constructor(
    private id: string,
    private found: () => void,
  ) {
    document.addEventListener("dragover", (e) => this.now && e.preventDefault());
    document.addEventListener("drop", (e) => {
      if (!this.now) return;
      e.preventDefault();
      void this.take(e.dataTransfer?.files ?? []);
    });
    // Who puts a file back does so in another window.
    window.addEventListener("focus", () => this.now && this.found());
  }

  show(state: State): void {
    if (!state.missing) this.said = "";
    this.now = state.missing;
    this.draw();
  }

  private draw(): void {
    const m = this.now;
    const box = byId("no-sound");
    box.hidden = !m;
    if (!m) return;
    const field = h("input", { type: "file", multiple: true, accept: "audio/*,video/*,.wav,.mp3,.m4a,.flac,.ogg", onchange: (e: Event) => void this.take((e.target as HTMLInputElement).files ?? []) });
    redraw(
      box,
      h("p", {}, h("strong", {}, m.lastSeen ? "The recording is missing." : "No sound came with this lesson."), m.lastSeen ? ` “${m.name}” was last seen at ${m.lastSeen}.` : ` Its recording is “${m.name}”.`),
      h("p", {}, m.lastSeen ? "Put it back there, or drop it" : "Drop it", " on this page or ", h("label", { class: "pick" }, "choose it", field), ": then it can be listened to here."),
      h("p", { role: "status" }, this.said),
    );
  }

  private async take(files: Iterable<File>): Promise<void> {
    const form = new FormData();
    for (const file of files) form.append("recording", file, file.name);
    if (!form.has("recording")) return;
    this.said = "Taking it in …";
    this.draw();
    try {
      await post(`/lessons/${this.id}/recording`, form);
      this.said = "";
      this.found();
    } catch (e) {
      this.said = reasonOf(e);
      this.draw();
    }
  }
}
