// The sound of the lesson: play from a moment with a second's lead-in, loop a
// stretch, slow down without changing the pitch.

/** What is heard before the moment that was asked for, in seconds. */
const lead = 1;
/** The shortest stretch that is repeated, in seconds. */
const shortest = 0.3;
export const speeds = [0.5, 0.65, 0.8, 1, 1.25, 1.5];

export interface Stretch {
  from: number;
  to: number;
}

export class Player {
  readonly audio = new Audio();
  loop: Stretch | null = null;
  looping = false;
  half: Partial<Stretch> = {}; // one end of a stretch that has no other yet
  private listeners: (() => void)[] = [];
  private at = 0; // where the playhead is while there is no sound

  constructor(
    public duration: number,
    private sound: string,
  ) {
    this.audio.preload = "metadata";
    this.audio.preservesPitch = true;
    if (sound) this.audio.src = sound;
    for (const name of ["play", "pause", "seeking", "seeked", "ratechange", "ended", "loadedmetadata"]) this.audio.addEventListener(name, () => this.tell());
    const tick = () => {
      if (!this.audio.paused) {
        this.turn();
        this.tell();
      }
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
    // A window behind another draws nothing: the loop must turn there too.
    this.audio.addEventListener("timeupdate", () => this.turn());
    this.audio.addEventListener("ended", () => this.turn());
  }

  /** Takes the sound of a lesson that was not listened to yet when it was opened. */
  now(duration: number, sound: string): void {
    this.duration = duration;
    if (sound && sound !== this.sound) {
      this.audio.src = sound;
      this.sound = sound;
    }
  }

  get silent(): boolean {
    return !this.audio.src;
  }
  get time(): number {
    return this.silent ? this.at : this.audio.currentTime;
  }
  get playing(): boolean {
    return !this.audio.paused;
  }

  onchange(f: () => void): void {
    this.listeners.push(f);
  }
  private tell(): void {
    for (const f of this.listeners) f();
  }
  private turn(): void {
    if (this.looping && this.loop && (this.time >= this.loop.to || this.audio.ended)) {
      this.audio.currentTime = this.loop.from;
      void this.play();
    }
  }

  seek(t: number): void {
    const to = Math.min(Math.max(t, 0), this.duration);
    this.at = to;
    if (!this.silent) this.audio.currentTime = to;
    this.tell();
  }

  async play(): Promise<void> {
    if (this.silent) return;
    try {
      await this.audio.play();
    } catch (e) {
      if (!(e instanceof DOMException && (e.name === "AbortError" || e.name === "NotAllowedError"))) throw e;
    }
  }
  pause(): void {
    this.audio.pause();
  }
  toggle(): void {
    if (this.playing) this.pause();
    else void this.play();
  }

  /** Plays from a second before t. Leaves a stretch that t is not in. */
  hear(t: number): void {
    if (this.loop && (t < this.loop.from || t > this.loop.to)) {
      this.looping = false;
      this.loop = null;
    }
    this.seek(t - lead);
    void this.play();
  }

  /** Plays a stretch again and again. */
  repeat(stretch: Stretch): void {
    this.loop = stretch;
    this.half = {};
    this.looping = true;
    this.seek(stretch.from);
    void this.play();
  }

  /** Sets one end of the stretch to t. Once both are set it is repeated. */
  mark(end: "from" | "to", t: number): void {
    const s = { ...(this.loop ?? this.half), [end]: t };
    if (s.from !== undefined && s.to !== undefined && s.to - s.from >= shortest) return this.repeat({ from: s.from, to: s.to });
    this.loop = null;
    this.looping = false;
    this.half = { [end]: t };
    this.tell();
  }

  /** Leaves a stretch that has but one end; says whether there was one. */
  forget(): boolean {
    const begun = this.half.from !== undefined || this.half.to !== undefined;
    this.half = {};
    this.tell();
    return begun;
  }

  /** Turns looping off, or on: over the stretch chosen before, else ten seconds around the playhead. */
  toggleLoop(): void {
    if (!this.loop && this.half.from !== undefined) this.loop = { from: this.half.from, to: Math.min(this.duration, Math.max(this.time, this.half.from + 3)) };
    this.half = {};
    if (!this.looping && !this.loop) this.loop = { from: Math.max(0, this.time - 5), to: Math.min(this.duration, this.time + 5) };
    this.looping = !this.looping;
    this.tell();
  }

  get speed(): number {
    return this.audio.playbackRate;
  }
  set speed(v: number) {
    this.audio.playbackRate = v;
    this.tell();
  }
  slower(by: -1 | 1): void {
    const i = speeds.indexOf(this.speed);
    this.speed = speeds[Math.min(Math.max((i < 0 ? 3 : i) + by, 0), speeds.length - 1)]!;
  }
}
