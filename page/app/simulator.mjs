// The simulator as a page sees it: a worker that is asked questions, one after another, and can be dropped and begun again.

export class Trapped extends Error {}
export class Dropped extends Error {}

export class Simulator {
  #module;
  #url;
  #always;
  #worker = null;
  #waiting = new Map();
  #number = 0;

  // `always`: files that every worker has from its beginning.
  constructor(module, url, always) {
    this.#module = module;
    this.#url = url;
    this.#always = always;
  }

  get isBusy() {
    return this.#waiting.size > 0;
  }

  #start() {
    const worker = new Worker(this.#url);
    worker.onmessage = ({ data }) => {
      const waiting = this.#waiting.get(data.number);
      this.#waiting.delete(data.number);
      if (data.trap === undefined) {
        waiting?.done(data.answer);
      } else {
        // After a trap nothing in the instance can be relied on.
        this.drop();
        waiting?.failed(new Trapped(data.trap));
      }
    };
    worker.onerror = (event) => {
      const waiting = [...this.#waiting.values()];
      this.drop();
      for (const { failed } of waiting) failed(new Trapped(event.message));
    };
    worker.postMessage({ module: this.#module, files: this.#always });
    return worker;
  }

  // Asks a question, with files to put in first. Before any command the time is told, since a module has no clock.
  ask(question, files = []) {
    this.#worker ??= this.#start();
    this.#number += 1;
    const number = this.#number;
    return new Promise((done, failed) => {
      this.#waiting.set(number, { done, failed });
      this.#worker.postMessage({ number, question, files });
    });
  }

  // `take`: outputs wanted as text; `takeBytes`: as bytes.
  async run(args, take, files, takeBytes = []) {
    await this.ask(clock(), files);
    return this.ask({ ask: "run", args, take, take_bytes: takeBytes });
  }

  // Ends whatever runs; the next question begins anew.
  drop() {
    this.#worker?.terminate();
    this.#worker = null;
    for (const { failed } of this.#waiting.values()) failed(new Dropped());
    this.#waiting.clear();
  }
}

export function clock() {
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "UTC";
  const running = Math.floor(performance.now());
  return { ask: "clock", seconds: Math.floor(Date.now() / 1000), zone, running_ms: running };
}

// A gzip member in base64, as bytes.
export async function unpacked(base64) {
  const packed = Uint8Array.from(atob(base64), (character) => character.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}
