// The line between the desk and the server. One message is on its way at a time; of what waits only the latest is sent.
// A message that keeps a change is never dropped: it is sent again until it is answered.

const AGAIN_MS = 2000;
const REST_MS = 60; // what is only tried is asked about when the pointer has rested so long,
const LONGEST_MS = 240; // or at the latest after so long

export class Link {
  // told: {home, answered(answer, message), refused(answer, message), connected(yes)}
  constructor(told) {
    this.told = told;
    this.waiting = null;
    this.sent = null;
    this.lost = false;
    window.addEventListener("online", () => this.next());
    window.addEventListener("offline", () => this.connection(false));
  }

  // What the next change is made from: number and version as the server keeps them.
  from({ number, version }) {
    [this.number, this.version] = [number, version];
  }

  // keep: whether the change is stored, or only asked about while the line is being dragged
  send(draft, { keep }) {
    if (!keep && (this.waiting?.keep || this.sent?.keep)) return;
    this.waiting = { draft, keep };
    clearTimeout(this.rest);
    if (keep) {
      if (this.sent && !this.sent.keep) this.leave();
      this.next();
      return;
    }
    this.since ??= performance.now();
    const rest = Math.min(REST_MS, Math.max(0, this.since + LONGEST_MS - performance.now()));
    this.rest = setTimeout(() => this.next(), rest);
  }

  // What is only tried need not be waited for: its answer is not read.
  leave() {
    this.sent.left = true;
    this.stop.abort();
    this.sent = null;
  }

  async next() {
    if (this.sent || !this.waiting) return;
    const message = this.waiting;
    const stop = new AbortController();
    [this.waiting, this.sent, this.stop, this.since] = [null, message, stop, undefined];
    clearTimeout(this.timer);
    const got = await this.ask(message, stop.signal);
    if (message.left) return;
    this.sent = null;
    this.connection(Boolean(got));
    if (got) {
      if (got.ok && message.keep) this.from(got.answer.draft);
      this.told[got.ok ? "answered" : "refused"](got.answer, message);
      this.next();
    } else {
      if (message.keep && !this.waiting) this.waiting = message;
      this.timer = setTimeout(() => this.next(), AGAIN_MS);
    }
  }

  // The server's answer; null where there is none.
  async ask({ draft, keep }, signal) {
    const body = JSON.stringify(this.number ? { ...draft, number: this.number, version: this.version } : draft);
    try {
      const response = await fetch(`${this.told.home}/desk/${keep ? "keep" : "try"}`, { method: "POST", headers: { "Content-Type": "application/json" }, body, signal });
      if (!(response.headers.get("Content-Type") ?? "").startsWith("application/json")) return null;
      return { ok: response.ok, answer: await response.json() };
    } catch {
      return null;
    }
  }

  connection(there) {
    this.lost = !there;
    this.told.connected(there);
  }
}
