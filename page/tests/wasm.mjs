// The simulator's WebAssembly in node, as a page's worker has it.
import { readFileSync } from "node:fs";

export function simulator(file) {
  const module = new WebAssembly.Module(readFileSync(file));
  const exports = new WebAssembly.Instance(module, {}).exports;
  const words = (text) => new TextEncoder().encode(text);
  const give = (bytes) => {
    const place = exports.take(bytes.length);
    new Uint8Array(exports.memory.buffer, place, bytes.length).set(bytes);
    return [place, bytes.length];
  };
  const ask = (question) => {
    const length = exports.call(...give(words(JSON.stringify(question))));
    return JSON.parse(new TextDecoder().decode(new Uint8Array(exports.memory.buffer, exports.out(), length)));
  };
  const put = (name, bytes) => exports.put(...give(words(name)), ...give(bytes));
  const run = (args, take = []) => ask({ ask: "run", args, take });
  return { module, exports, ask, put, run };
}
