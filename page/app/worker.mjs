// One instance of the simulator in a thread of its own: a compiled module comes first, then questions, each with its number.
let simulator;
const words = (text) => new TextEncoder().encode(text);

function give(bytes) {
  const place = simulator.take(bytes.length);
  new Uint8Array(simulator.memory.buffer, place, bytes.length).set(bytes);
  return [place, bytes.length];
}

function ask(question) {
  const length = simulator.call(...give(words(JSON.stringify(question))));
  return JSON.parse(new TextDecoder().decode(new Uint8Array(simulator.memory.buffer, simulator.out(), length)));
}

onmessage = ({ data }) => {
  try {
    if (data.module) simulator = new WebAssembly.Instance(data.module, {}).exports;
    for (const [name, bytes] of data.files) simulator.put(...give(words(name)), ...give(bytes));
    if (data.module) return;
    postMessage({ number: data.number, answer: ask(data.question) });
  } catch (error) {
    postMessage({ number: data.number, trap: String(error) });
  }
};
