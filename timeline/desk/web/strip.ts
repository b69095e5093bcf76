// The strip: the sound of the lesson from left to right, and lanes under it. The
// waveform is wavesurfer's; the lanes are one canvas that draws only what is in view,
// so a lesson of hours scrolls like one of minutes.
import WaveSurfer from "wavesurfer.js";
import { byId, clock, h } from "./dom";
import type { Player, Stretch } from "./player";
import type { Peaks } from "./types";

export type Kind = "speech" | "call" | "maneuver" | "phase" | "finding" | "note";

// Marks nearer to one another than this, in pixels, are drawn as one; but not those of
// the same moment, in seconds: no zoom parts them.
const crowd = 24;
const apart = 0.5;

/** One thing on a lane. shape is one of the page's drawings. */
export interface Item {
  kind: Kind;
  from: number;
  to: number;
  label: string;
  hint: string;
  shape?: string;
  faint?: boolean;
  hand?: boolean;
  longest?: number; // the longest item up to this one, for finding what is in view
  open?: () => void;
}

export interface Lane {
  name: string;
  kind: Kind;
  height: number;
  items: Item[];
}

const axisHeight = 20;
const waveHeight = 84;
const most = 400; // px per second

export class Strip {
  private perSecond = 1; // px
  private from = 0; // second at the left edge
  private width = 1;
  private lanes: Lane[] = [];
  private hits: { x0: number; x1: number; y0: number; y1: number; item: Item }[] = [];
  private surfer: WaveSurfer | null = null;
  private peaks: Peaks | null = null;
  private due = false;
  private colours: Record<string, string> = {};
  private readonly canvas = byId<HTMLCanvasElement>("lanes");
  private readonly over = byId<HTMLCanvasElement>("overview");
  private readonly names = byId("lane-names");
  private readonly wave = byId("wave");
  private readonly tip = byId("tip");
  private readonly head = byId("head");
  private readonly tracks = byId("tracks");
  private readonly shade = byId("stretch");
  /** Called with the moment that was clicked; says whether it took the click. */
  pick: (t: number) => boolean = () => false;

  constructor(private player: Player) {
    this.readColours();
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      this.readColours();
      this.surfer?.setOptions({ waveColor: this.colours.wave!, progressColor: this.colours.waveheard! });
      this.draw();
    });
    new ResizeObserver(() => requestAnimationFrame(() => this.fitWidth())).observe(this.wave);
    this.fitWidth();
    this.pointer();
    player.onchange(() => this.moveHead());
    document.fonts?.ready.then(() => this.draw());
  }

  private get whole(): number {
    return Math.max(this.player.duration, 1);
  }
  private get fit(): number {
    return this.width / this.whole;
  }
  get to(): number {
    return this.from + this.width / this.perSecond;
  }

  /** Shows the waveform. The sound itself is fetched only when it is played. */
  async show(peaks: Peaks): Promise<void> {
    this.peaks = peaks;
    const low = new Float32Array(peaks.peaks.length);
    const high = new Float32Array(peaks.peaks.length);
    let loud = 0.05;
    peaks.peaks.forEach(([a, b], i) => {
      low[i] = a;
      high[i] = b;
      loud = Math.max(loud, Math.abs(a), Math.abs(b));
    });
    this.surfer = WaveSurfer.create({
      container: this.wave,
      media: this.player.audio,
      peaks: [high, low],
      duration: this.whole,
      height: waveHeight,
      maxPeak: loud,
      normalize: true,
      interact: false,
      dragToSeek: false,
      hideScrollbar: true,
      autoScroll: false,
      cursorWidth: 0,
      waveColor: this.colours.wave!,
      progressColor: this.colours.waveheard!,
      cspNonce: document.querySelector<HTMLMetaElement>('meta[name="sidetone-nonce"]')?.content ?? "",
    });
    this.surfer.on("ready", () => this.moveWave());
    // Zooming, it keeps its own place and tells of that a frame later: it follows the
    // lanes, never they it.
    this.surfer.on("scroll", (start) => {
      if (Math.abs(start - this.from) * this.perSecond > 1) this.moveWave();
    });
    this.draw();
  }

  private moveWave(): void {
    if (!this.surfer?.getDecodedData()) return;
    const scrolls = this.perSecond > this.fit * 1.001;
    const zoom = scrolls ? this.perSecond : 0;
    if (this.surfer.options.minPxPerSec !== zoom) this.surfer.zoom(zoom);
    this.surfer.setScroll(scrolls ? this.from * this.perSecond : 0);
  }

  setLanes(lanes: Lane[]): void {
    for (const lane of lanes) {
      lane.items.sort((a, b) => a.from - b.from);
      let longest = 0;
      for (const it of lane.items) it.longest = longest = Math.max(longest, it.to - it.from);
    }
    this.lanes = lanes;
    this.names.replaceChildren(...lanes.map((l) => h("span", { class: `lane-name of-${l.kind}`, "data-height": l.height }, l.name)));
    for (const e of this.names.querySelectorAll<HTMLElement>(".lane-name")) e.style.height = `${e.dataset.height}px`;
    const tall = lanes.reduce((n, l) => n + l.height, axisHeight);
    this.canvas.style.height = `${tall}px`;
    this.draw();
  }

  // --- what is in view ---

  private fitWidth(): void {
    const width = this.wave.clientWidth;
    if (width < 1) return;
    const fitted = this.perSecond <= this.fit * 1.001 || this.width === 1;
    this.width = width;
    if (fitted) this.perSecond = this.fit;
    this.look(this.from);
  }

  /** Puts a second at the left edge. */
  look(from: number): void {
    this.perSecond = Math.min(Math.max(this.perSecond, this.fit), Math.max(most, this.fit));
    this.from = Math.min(Math.max(from, 0), Math.max(0, this.whole - this.width / this.perSecond));
    this.moveWave();
    this.draw();
  }

  /** Zooms, the second around staying where it is. */
  zoom(factor: number, around = this.inView(this.player.time) ? this.player.time : (this.from + this.to) / 2): void {
    const x = (around - this.from) * this.perSecond;
    this.perSecond = Math.min(Math.max(this.perSecond * factor, this.fit), Math.max(most, this.fit));
    this.look(around - x / this.perSecond);
  }

  showWhole(): void {
    this.perSecond = this.fit;
    this.look(0);
  }

  showStretch(s: Stretch): void {
    const room = Math.max((s.to - s.from) * 0.06, 2);
    this.perSecond = this.width / (s.to - s.from + 2 * room);
    this.look(s.from - room);
  }

  private inView(t: number): boolean {
    return t >= this.from && t <= this.to;
  }

  /** Scrolls so that t is in view. */
  bring(t: number): void {
    if (!this.inView(t)) this.look(t - (0.15 * this.width) / this.perSecond);
  }

  private moveHead(): void {
    const t = this.player.time;
    if (this.player.playing && t > this.to - 0.02 * (this.to - this.from) && this.to < this.whole) this.look(t - (0.1 * this.width) / this.perSecond);
    const x = (t - this.from) * this.perSecond;
    this.head.hidden = x < 0 || x > this.width;
    this.head.style.transform = `translateX(${x}px)`;
    this.shadeStretch();
  }

  /** Shades the stretch that repeats, over the sound and all lanes; of one that has but
   * one end yet, that. */
  private shadeStretch(): void {
    const { loop, half } = this.player;
    const from = loop?.from ?? half.from ?? half.to;
    const to = loop?.to ?? half.to ?? half.from;
    this.shade.hidden = from === undefined || to === undefined || to < this.from || from > this.to;
    if (this.shade.hidden) return;
    const x0 = Math.max((from! - this.from) * this.perSecond, -4);
    const x1 = Math.min((to! - this.from) * this.perSecond, this.width + 4);
    this.shade.style.left = `${x0}px`;
    this.shade.style.width = `${Math.max(x1 - x0, 2)}px`;
    this.shade.classList.toggle("repeats", this.player.looping);
  }

  // --- drawing ---

  private readColours(): void {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["paper", "card", "ink", "soft", "line", "link", "wave", "waveheard", "band", "call", "hand", "heard", "not-heard", "out-of-order", "late", "off-value", "unsure", "corrected", "loop"])
      this.colours[name] = style.getPropertyValue(`--${name}`).trim();
  }

  draw(): void {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      document.body.classList.toggle("zoomed", this.perSecond > this.fit * 1.01); // the overview has a size only then
      this.drawLanes();
      this.drawOverview();
      this.moveHead();
      this.tracks.dataset.from = this.from.toFixed(2);
      this.tracks.dataset.to = this.to.toFixed(2);
    });
  }

  private prepare(canvas: HTMLCanvasElement): CanvasRenderingContext2D | null {
    const dense = devicePixelRatio || 1;
    const w = canvas.clientWidth;
    const tall = canvas.clientHeight;
    if (w < 1 || tall < 1) return null;
    if (canvas.width !== Math.round(w * dense) || canvas.height !== Math.round(tall * dense)) {
      canvas.width = Math.round(w * dense);
      canvas.height = Math.round(tall * dense);
    }
    const c = canvas.getContext("2d");
    if (!c) return null;
    c.setTransform(dense, 0, 0, dense, 0, 0);
    c.clearRect(0, 0, w, tall);
    return c;
  }

  private drawLanes(): void {
    const c = this.prepare(this.canvas);
    if (!c) return;
    const x = (t: number) => (t - this.from) * this.perSecond;
    this.hits = [];
    let y = 0;
    for (const lane of this.lanes) {
      this.drawLane(c, lane, y, x);
      y += lane.height;
      c.fillStyle = this.colours.line!;
      c.fillRect(0, y - 1, this.width, 1);
    }
    this.drawAxis(c, y, x);
  }

  private drawLane(c: CanvasRenderingContext2D, lane: Lane, y: number, x: (t: number) => number): void {
    const slack = (lane.kind === "finding" || lane.kind === "note" ? 14 : lane.kind === "call" ? 150 : 2) / this.perSecond;
    const items = lane.items;
    const longest = items.at(-1)?.longest ?? 0;
    let i = firstAfter(items, this.from - longest - slack);
    const free = [-Infinity, -Infinity]; // of each row of calls, where the next label has room
    for (; i < items.length && items[i]!.from <= this.to + slack; i++) {
      const it = items[i]!;
      const x0 = x(it.from);
      const x1 = Math.max(x(it.to), x0 + 2);
      if (x1 < -150) continue;
      const mid = y + lane.height / 2;
      const hit = { x0: x0 - 3, x1: x1 + 3, y0: y, y1: y + lane.height, item: it };
      switch (lane.kind) {
        case "speech":
          c.fillStyle = it.faint ? this.colours.band! : this.colours.wave!;
          c.fillRect(x0, y + lane.height - 6, Math.max(x1 - x0 - 1, 1), 3);
          if (this.perSecond >= 22) this.text(c, it.label, x0, y + lane.height - 10, x1 - x0 - 2, this.colours.ink!, 11.5);
          else c.fillRect(x0, y + 5, Math.max(x1 - x0 - 1, 1), lane.height - 11);
          break;
        case "maneuver":
        case "phase":
          c.fillStyle = this.colours.band!;
          c.beginPath();
          c.roundRect(x0, y + 3, Math.max(x1 - x0 - 1, 2), lane.height - 7, 3);
          c.fill();
          if (lane.kind === "phase" || it.hand) {
            c.strokeStyle = this.colours.soft!;
            c.lineWidth = it.hand ? 2 : 1;
            c.stroke();
          }
          // The name stays in view while its band is.
          this.text(c, it.label, Math.max(x0, 0) + 6, mid + 4, x1 - Math.max(x0, 0) - 10, this.colours.ink!, lane.kind === "phase" ? 11 : 12, lane.kind === "maneuver");
          break;
        case "call": {
          // In two rows by turns, so that labels have twice the room.
          const row = i % 2;
          const tall = lane.height / 2;
          const top = y + row * tall + 1;
          c.fillStyle = it.hand ? this.colours.hand! : it.faint ? this.colours.soft! : this.colours.ink!;
          if (it.faint) {
            c.fillRect(x0, top + 2, 1.5, 4);
            c.fillRect(x0, top + 9, 1.5, 4);
          } else c.fillRect(x0, top + 1, 2, tall - 3);
          c.font = "11.5px system-ui, sans-serif";
          const wide = c.measureText(it.label).width;
          const next = items[i + 1];
          const after = items[i + 2];
          const room = (after ? x(after.from) : Infinity) - x0 - 9;
          hit.x0 = x0 - 12;
          hit.x1 = Math.min(x0 + 12, next ? Math.max((x0 + x(next.from)) / 2, x0 + 3) : Infinity);
          if (x0 >= free[row]! && room > Math.min(wide, 30)) {
            this.text(c, it.label, x0 + 5, top + tall - 4, Math.min(wide + 1, room), c.fillStyle as string, 11.5);
            free[row] = x0 + 5 + Math.min(wide, room);
            this.hits.push({ x0, x1: free[row]!, y0: top, y1: top + tall, item: it });
          } else free[row] = Math.max(free[row]!, x0);
          break;
        }
        default: {
          // Marks that would lie over one another become one with their number.
          let last = i;
          while (items[last + 1] && x(items[last + 1]!.from) - x0 < crowd) last++;
          // One at the very edge is drawn whole, beside it.
          const inside = x0 > -1 && x0 < this.width + 1 ? Math.min(Math.max(x0, 9), this.width - 9) : x0;
          hit.x0 = inside - 12;
          hit.x1 = inside + 12;
          if (last > i && items[last]!.from - it.from > apart) {
            const group = items.slice(i, last + 1);
            hit.item = this.crowded(group);
            hit.x1 = x(items[last]!.from) + 12;
            this.count(c, group.length, (x0 + x(items[last]!.from)) / 2, mid);
          } else this.shape(c, it.shape ?? "unsure", inside, mid);
          i = last;
        }
      }
      this.hits.push(hit);
    }
  }

  /** Several marks as one thing to open: it shows the stretch they are in. */
  private crowded(items: Item[]): Item {
    const from = items[0]!.from;
    const to = items.at(-1)!.from;
    return { ...items[0]!, to, hint: `${items.length} marks from ${clock(from)} to ${clock(to)}: click to look closer`, open: () => this.showStretch({ from, to: Math.max(to, from + 4) }) };
  }

  /** A number in a ring, in the place of so many marks. */
  private count(c: CanvasRenderingContext2D, n: number, x: number, y: number): void {
    c.font = "600 11px system-ui, sans-serif";
    const text = String(n);
    const wide = Math.max(c.measureText(text).width + 10, 18);
    c.fillStyle = this.colours.card!;
    c.strokeStyle = this.colours.ink!;
    c.lineWidth = 1.5;
    c.beginPath();
    c.roundRect(x - wide / 2, y - 9, wide, 18, 9);
    c.fill();
    c.stroke();
    c.fillStyle = this.colours.ink!;
    c.fillText(text, x - c.measureText(text).width / 2, y + 4);
  }

  private text(c: CanvasRenderingContext2D, text: string, x: number, y: number, room: number, colour: string, size: number, bold = false): void {
    room = Math.min(room, this.width - x - 2);
    if (room < 10) return;
    c.font = `${bold ? "600 " : ""}${size}px system-ui, sans-serif`;
    c.fillStyle = colour;
    if (c.measureText(text).width <= room) {
      c.fillText(text, x, y);
      return;
    }
    // Cut in the middle of a letter it looks broken.
    let least = 0;
    let most = text.length - 1;
    while (least < most) {
      const half = Math.ceil((least + most) / 2);
      if (c.measureText(text.slice(0, half) + "…").width <= room) least = half;
      else most = half - 1;
    }
    if (least >= 3) c.fillText(text.slice(0, least).trimEnd() + "…", x, y);
  }

  /** One of the page's drawings, taken from its template. */
  private shape(c: CanvasRenderingContext2D, name: string, x: number, y: number): void {
    const symbol = document.getElementById(`i-${name}`);
    if (!symbol) return;
    const colour = this.colours[name] || this.colours[name === "note" || name === "pen" ? "hand" : "soft"]!;
    c.save();
    c.translate(x - 8, y - 8);
    c.scale(0.8, 0.8);
    c.lineCap = c.lineJoin = "round";
    for (const part of symbol.children) {
      const path = part.tagName === "path" ? new Path2D(part.getAttribute("d") ?? "") : new Path2D();
      const n = (a: string) => Number(part.getAttribute(a) ?? 0);
      if (part.tagName === "circle") path.arc(n("cx"), n("cy"), n("r"), 0, 7);
      if (part.tagName === "rect") path.roundRect(n("x"), n("y"), n("width"), n("height"), n("rx"));
      const kind = part.getAttribute("class");
      if (kind === "f") {
        c.fillStyle = colour;
        c.fill(path);
      } else {
        if (kind === "o") {
          c.fillStyle = this.colours.card!;
          c.fill(path);
        }
        c.strokeStyle = kind === "k" ? this.colours.card! : colour;
        c.lineWidth = 2.4;
        c.stroke(path);
      }
    }
    c.restore();
  }

  private drawAxis(c: CanvasRenderingContext2D, y: number, x: (t: number) => number): void {
    const step = [0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600].find((s) => s * this.perSecond >= 70) ?? 7200;
    c.font = "11px system-ui, sans-serif";
    c.fillStyle = this.colours.soft!;
    for (let t = Math.ceil(this.from / step) * step; t <= this.to; t += step) {
      c.fillRect(Math.round(x(t)), y, 1, 5);
      const text = clock(t) + (step < 1 && t % 1 ? ".5" : "");
      const wide = c.measureText(text).width;
      // The last one has its figure on its left when there is no room on its right.
      c.fillText(text, x(t) + 4 + wide <= this.width ? x(t) + 4 : x(t) - 4 - wide, y + 14);
    }
  }

  private drawOverview(): void {
    const c = this.prepare(this.over);
    if (!c) return;
    const w = this.over.clientWidth;
    const tall = this.over.clientHeight;
    const x = (t: number) => (t / this.whole) * w;
    c.fillStyle = this.colours.band!;
    for (const lane of this.lanes) if (lane.kind === "maneuver") for (const it of lane.items) c.fillRect(x(it.from), 0, Math.max(x(it.to) - x(it.from), 2), tall);
    if (this.peaks) {
      const n = this.peaks.peaks.length;
      c.fillStyle = this.colours.wave!;
      for (let px = 0; px < w; px++) {
        let loud = 0;
        const to = Math.max(((px + 1) / w) * n, (px / w) * n + 1);
        const stride = Math.max(1, Math.floor((to - (px / w) * n) / 40));
        for (let i = Math.floor((px / w) * n); i < to && i < n; i += stride) loud = Math.max(loud, this.peaks.peaks[i]![1]);
        c.fillRect(px, tall / 2 - loud * tall * 0.45, 1, Math.max(1, loud * tall * 0.9));
      }
    }
    c.strokeStyle = this.colours.link!;
    c.lineWidth = 2;
    c.strokeRect(x(this.from) + 1, 1, Math.max(x(this.to) - x(this.from) - 2, 4), tall - 2);
  }

  // --- the hand on it ---

  private pointer(): void {
    const lanes = byId("tracks");
    const second = (e: MouseEvent) => this.from + (e.clientX - this.wave.getBoundingClientRect().left) / this.perSecond;
    const under = (e: MouseEvent): Item | undefined => {
      const box = this.canvas.getBoundingClientRect();
      const px = e.clientX - box.left;
      const py = e.clientY - box.top;
      return this.hits.findLast((hit) => px >= hit.x0 && px <= hit.x1 && py >= hit.y0 && py < hit.y1)?.item;
    };
    let down: { x: number; t: number } | null = null;
    lanes.addEventListener("pointerdown", (e) => {
      if (e.button === 0) down = { x: e.clientX, t: second(e) };
    });
    lanes.addEventListener("pointermove", (e) => {
      if (down && e.buttons === 1 && e.pointerType !== "touch" && Math.abs(e.clientX - down.x) > 6) {
        const t = second(e);
        this.player.loop = { from: Math.max(0, Math.min(down.t, t)), to: Math.min(this.whole, Math.max(down.t, t)) };
        this.player.looping = false;
        this.draw();
        return;
      }
      const it = under(e);
      lanes.classList.toggle("over", !!it);
      this.tip.hidden = !it;
      if (!it) return;
      this.tip.textContent = it.hint;
      const box = lanes.getBoundingClientRect();
      this.tip.style.left = `${Math.min(e.clientX - box.left + 12, Math.max(0, box.width - 330))}px`;
      this.tip.style.top = `${e.clientY - box.top + 18}px`;
    });
    lanes.addEventListener("pointerleave", () => (this.tip.hidden = true));
    lanes.addEventListener("pointerup", (e) => {
      const start = down;
      down = null;
      if (!start) return;
      if (e.pointerType !== "touch" && Math.abs(e.clientX - start.x) > 6) {
        if (this.player.loop && this.player.loop.to - this.player.loop.from > 0.2) this.player.repeat(this.player.loop);
        return;
      }
      const t = second(e);
      if (this.pick(t)) return;
      const it = under(e);
      if (it?.open) it.open();
      else this.player.seek(t);
    });
    lanes.addEventListener("pointercancel", () => (down = null));
    lanes.addEventListener(
      "wheel",
      (e) => {
        if (e.ctrlKey || e.metaKey) {
          e.preventDefault();
          this.zoom(Math.exp(-e.deltaY / 250), second(e));
        } else if (e.deltaX !== 0 || e.shiftKey) {
          e.preventDefault();
          this.look(this.from + (e.deltaX || e.deltaY) / this.perSecond);
        }
      },
      { passive: false },
    );
    // A finger on the lanes moves them.
    let touch: { x: number; from: number } | null = null;
    lanes.addEventListener("touchstart", (e) => (touch = e.touches.length === 1 ? { x: e.touches[0]!.clientX, from: this.from } : null), { passive: true });
    lanes.addEventListener(
      "touchmove",
      (e) => {
        if (touch) this.look(touch.from - (e.touches[0]!.clientX - touch.x) / this.perSecond);
      },
      { passive: true },
    );
    const jump = (e: PointerEvent) => {
      const box = this.over.getBoundingClientRect();
      this.look(((e.clientX - box.left) / box.width) * this.whole - this.width / this.perSecond / 2);
    };
    this.over.addEventListener("pointerdown", (e) => {
      this.over.setPointerCapture(e.pointerId);
      jump(e);
    });
    this.over.addEventListener("pointermove", (e) => {
      if (e.buttons === 1) jump(e);
    });
  }
}

/** The first of items, sorted by from, that begins at t or later. */
function firstAfter(items: { from: number }[], t: number): number {
  let lo = 0;
  let hi = items.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (items[mid]!.from < t) lo = mid + 1;
    else hi = mid;
  }
  return lo;
}
