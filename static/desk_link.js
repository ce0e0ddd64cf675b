// The line between the desk and the server. One message is on its way at a time; of what waits only the latest is sent.
// A message that keeps a change is never dropped: it is sent again until it is answered.

const AGAIN_MS = 2000;

export class Link {
  // told: {home, answered(answer, message), refused(answer, message), connected(yes)}
  constructor(told) {
    this.told = told;
    this.waiting = null;
    this.busy = false;
    this.lost = false;
    window.addEventListener("online", () => this.next());
    window.addEventListener("offline", () => this.connection(false));
  }

  // keep: whether the change is stored, or only asked about while the line is being dragged
  send(draft, { keep }) {
    if (!keep && this.waiting?.keep) return;
    this.waiting = { draft, keep };
    this.next();
  }

  async next() {
    if (this.busy || !this.waiting) return;
    const message = this.waiting;
    this.waiting = null;
    this.busy = true;
    clearTimeout(this.timer);
    try {
      const draft = this.version && message.draft.number ? { ...message.draft, version: this.version } : message.draft;
      const response = await fetch(`${this.told.home}/desk/${message.keep ? "keep" : "try"}`, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(draft),
      });
      if (!(response.headers.get("Content-Type") ?? "").startsWith("application/json")) throw new Error("no answer of the desk");
      const answer = await response.json();
      this.connection(true);
      if (response.ok) {
        if (message.keep) this.version = answer.draft.version;
        this.told.answered(answer, message);
      } else this.told.refused(answer, message);
    } catch {
      this.connection(false);
      if (message.keep && !this.waiting) this.waiting = message;
      this.timer = setTimeout(() => this.next(), AGAIN_MS);
    } finally {
      this.busy = false;
      if (!this.lost) this.next();
    }
  }

  connection(there) {
    this.lost = !there;
    this.told.connected(there);
  }

  // Whether a change waits to be kept.
  get unsent() {
    return Boolean(this.waiting?.keep) || this.busy;
  }
}
