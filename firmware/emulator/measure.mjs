// What a decision costs on the Pico: node measure.mjs IMAGE [HOURS [SUPPLY,RETURN,SLAB,OUTDOOR | noise]]
//
// Four chips at their places, a frost night unless other temperatures are given, °C; with `noise` any temperature, faults,
// commands and settings, another every quarter of a minute; counts the instructions from the entry of the step to
// its return, the deepest stack, and the share of time in which the processor works. The emulator's cycles are
// approximate, its instructions exact. Needs arm-none-eabi-nm.
import { execFileSync } from 'node:child_process';
import { Board } from './board.mjs';
import { Bus, Ds18b20 } from './onewire.mjs';
import { random } from './random.mjs';
import { Serial } from './serial.mjs';

const [image, hours = '1', night = '2.5,1.9,1.2,-9'] = process.argv.slice(2);
if (!image) { console.error('usage: node measure.mjs IMAGE [HOURS [SUPPLY,RETURN,SLAB,OUTDOOR | noise]]'); process.exit(2); }
const symbol = execFileSync('arm-none-eabi-nm', ['-C', image], { encoding: 'utf8' }).split('\n')
  .find((line) => /firmware_app::app::decide$/.test(line));
if (!symbol) throw new Error('the step has no symbol of its own in this image');
const entry = parseInt(symbol.split(' ')[0], 16) & ~1;

const board = new Board(image), bus = new Bus(board, 15), serial = new Serial(board);
const noise = night === 'noise';
const chips = (noise ? '6,5,4,-2' : night).split(',').map((celsius, n) => bus.add(new Ds18b20(0x1200 + n * 37, Number(celsius))));
board.run(1500);
['supply', 'return', 'slab', 'outdoor'].forEach((name, n) => { serial.say(`bind ${name} ${chips[n].identity}`); board.run(600); });

const { core } = board.mcu, counts = [];
const step = core.executeInstruction.bind(core);
let from = null, back = null, busy = 0;
core.executeInstruction = () => {
  if (from === null && core.PC === entry) { from = board.instructions; back = core.LR & ~1; }
  else if (from !== null && core.PC === back) { counts.push(board.instructions - from); from = null; }
  const cycles = step();
  busy += cycles;
  return cycles;
};
const start = board.ms;
const draw = random(3), pick = (list) => list[draw(list.length)];
const upsets = [
  () => { pick(chips).celsius = draw(800) / 8 - 25; },
  () => { pick(chips).plugged = draw(3) > 0; },
  () => { pick(chips).garble = draw(8); },
  () => { bus.shorted = draw(4) === 0; bus.update(); },
  () => serial.say(pick(['mode winter', 'mode summer', 'mode drained', 'mode commissioning', 'pump on', 'pump off', 'pump auto', 'boiler on', 'boiler auto', 'acknowledge'])),
  () => { serial.say(`set target ${1 + draw(30) / 10}`); board.run(400); serial.say('apply'); },
];
for (let n = 0; n < Number(hours) * 240 && !board.stopped; n++) {
  if (noise) pick(upsets)();
  board.run(15e3);
  serial.take();
}
if (board.stopped) throw new Error(`stopped: ${board.stopped}`);
const mean = counts.reduce((sum, n) => sum + n, 0) / counts.length;
console.log(`${counts.length} decisions, instructions: least ${Math.min(...counts)}, mean ${mean.toFixed(0)}, most ${Math.max(...counts)}`);
console.log(`stack at most ${board.stackUsed} bytes, processor at work ${(100 * busy * 8e-6 / (board.ms - start)).toFixed(2)} % of the time`);
