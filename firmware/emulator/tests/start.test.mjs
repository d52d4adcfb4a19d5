// From the first instruction to the first decision: what the relays' pads carry, whatever the cause of the
// boot and whatever is broken. BOOTS boots with faults drawn from BOOT_SEED, a thousand by hand.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import test from 'node:test';
import { GPIOPinState } from 'rp2040js';
import { Board } from '../board.mjs';
import { Bus, Ds18b20 } from '../onewire.mjs';
import { random } from '../random.mjs';
import { Serial } from '../serial.mjs';

const IMAGE = process.env.PICO_IMAGE
  ?? new URL('../../boards/pico/target/thumbv6m-none-eabi/release/firmware-pico', import.meta.url).pathname;
const CIRCULATOR = 16, CALL = 17, ALARM = 18, RX = 1, BUTTON = 14, BUS = 15, SECOND_BUS = 13;
const RELAYS = [CIRCULATOR, CALL, ALARM];

const symbol = execFileSync('arm-none-eabi-nm', ['-C', IMAGE], { encoding: 'utf8' }).split('\n')
  .find((line) => /firmware_app::app::decide$/.test(line));
assert.ok(symbol, 'the decision has a symbol of its own in this image');
const DECIDE = parseInt(symbol.split(' ')[0], 16) & ~1;

/** Every relay here is driven active high: its coil rests while the pad is low, or driven by nobody. */
const rests = (pin) => pin.value !== GPIOPinState.High && pin.value !== GPIOPinState.InputPullUp;

/** A board whose pads are watched from its first instruction on. */
function boot({ shorted = [], ...kept } = {}) {
  const board = new Board(IMAGE, kept), serial = new Serial(board);
  const wires = [new Bus(board, BUS), new Bus(board, SECOND_BUS)];
  const chips = [8, 3.5].map((celsius, n) => wires[n].add(new Ds18b20(0x1200 + n * 37, celsius)));
  board.mcu.gpio[BUTTON].setInputValue(true); // pulled up
  shorted.forEach((n) => { wires[n].shorted = true; wires[n].update(); });
  const h = { board, chips, serial, decidedAt: null, driven: [] };
  const look = () => RELAYS.forEach((n) => {
    if (!rests(board.mcu.gpio[n])) h.driven.push({ pin: n, ms: board.ms, early: h.decidedAt === null });
  });
  board.onPad = (n) => { if (RELAYS.includes(n)) look(); };
  look();
  const { core } = board.mcu, step = core.executeInstruction;
  let back = null;
  core.executeInstruction = () => {
    if (core.PC === DECIDE) back = core.LR & ~1;
    else if (core.PC === back) { h.decidedAt = board.ms; core.executeInstruction = step; }
    return step.call(core);
  };
  const dog = board.mcu.peripherals[0x40058], write = dog.writeUint32.bind(dog);
  h.loads = [];
  dog.writeUint32 = (offset, value) => { if (offset === 4) h.loads.push(board.ms); write(offset, value); };
  return h;
}

/** The boot after the watchdog bit. */
const bitten = (h, more = {}) => boot({ flash: h.board.mcu.flash.slice(), scratch: h.board.scratch, reason: 1, ...more });

function runs(h, ms = 2e3) {
  h.board.run(ms);
  assert.deepEqual(h.driven.filter((drive) => drive.early), [], 'a coil moved before the first decision');
  return h;
}

const event = (h) => {
  const row = h.serial.take().find((line) => line.startsWith('row '));
  return row?.match(/,(boot [^,]*)/)?.[1] ?? null;
};
const held = (h) => h.serial.lines.some((line) => line.startsWith('held '));

test('in every cause of a boot the coils rest until the first decision, which comes within two seconds', () => {
  const first = runs(boot());
  const kept = { flash: first.board.mcu.flash.slice(), scratch: first.board.scratch };
  const causes = {
    'boot power_on': boot({ flash: kept.flash }),
    'boot watchdog': boot({ ...kept, reason: 1 }),
    'boot requested': boot({ ...kept, reason: 2 }),
  };
  for (const [word, h] of Object.entries(causes)) {
    runs(h);
    assert.ok(h.decidedAt !== null && h.decidedAt < 2e3, `${word}: ${h.decidedAt} ms`);
    // Then the circulator's coil holds it off, no call, and the bell rings: no settings were stored.
    assert.deepEqual(RELAYS.map((n) => h.board.level(n)), [true, false, false]);
    assert.ok(h.driven.every((drive) => drive.pin === CIRCULATOR && drive.ms - h.decidedAt < 5));
    // Started at the first line, started anew with the crystal's time, then fed only by whole cycles.
    assert.ok(h.loads[0] < 3 && h.loads.filter((ms) => ms < h.decidedAt).length === 2, String(h.loads));
    assert.ok(event(h).startsWith(word));
    assert.ok(h.board.mcu.gpio[RX].pullupEnabled, 'the line without an adapter is at rest');
  }
  console.log(`first decision ${causes['boot power_on'].decidedAt.toFixed(0)} ms after the reset`);
});

test('new firmware is started by the boot ROM\'s watchdog, which is no crash, however often', () => {
  let flash;
  for (let n = 0; n < 5; n++) {
    const h = runs(boot({ flash, reason: 1 }), 3e3);
    assert.match(event(h), /^boot power_on /);
    assert.equal(held(h), false);
    assert.equal(h.board.level(CIRCULATOR), true, 'it decides');
    flash = h.board.mcu.flash.slice();
  }
});

test('a crystal or a PLL that never gets ready ends in the watchdog with every coil at rest, again and again', () => {
  for (const part of ['crystal', 'pll']) {
    let h = boot({ broken: [part] });
    for (let n = 0; n < 5; n++) {
      runs(h, 20e3);
      assert.equal(h.board.stopped, 'watchdog');
      assert.deepEqual([h.driven, h.decidedAt], [[], null]);
      h = bitten(h, { broken: [part] });
    }
    // Repaired: the resets were counted, no flash was needed for that.
    h = runs(bitten(h), 12e3);
    assert.deepEqual(h.driven, []);
    assert.ok(held(h));
    h.serial.take();
    h.serial.say('resets');
    h.board.run(600);
    const told = h.serial.take('reset ');
    assert.match(told[0], /^watchdog .* during=starting /);
  }
});

test('a converter that never gets ready or never ends costs its readings and nothing else', () => {
  for (const part of ['adc', 'conversion']) {
    const h = runs(boot({ broken: [part] }));
    h.serial.say('bind slab input 0');
    h.board.run(12e3);
    assert.equal(h.board.stopped, null);
    assert.equal(h.board.level(CIRCULATOR), true, 'it decides');
    const rows = h.serial.take('row ');
    assert.ok(rows.length >= 1 && rows.at(-1).includes('missing'), rows.at(-1));
  }
  const h = runs(boot());
  h.board.mcu.peripherals[0x4004c].channelValues[0] = 2048;
  h.serial.say('bind slab input 0');
  h.board.run(12e3);
  assert.match(h.serial.take('row ').at(-1), /,25\.\d+,/);
});

test('a flash that never ends or takes nothing leaves the first decision alone and ends held', () => {
  let h = boot({ broken: ['flash'] });
  const ends = [];
  for (let n = 0; n < 4; n++) {
    runs(h, 20e3);
    assert.ok(h.decidedAt !== null);
    ends.push([h.board.stopped, held(h)]);
    h = bitten(h, { broken: ['flash'] });
  }
  assert.deepEqual(ends, [['watchdog', false], ['watchdog', false], ['watchdog', false], ['watchdog', true]]);
  assert.equal(runs(h, 3e3).driven.length, 0, 'held: no coil moves');
  h = runs(boot({ broken: ['dead flash'] }), 15e3);
  assert.equal(h.board.stopped, null);
  assert.equal(h.board.level(CIRCULATOR), true, 'it decides without its flash');
});

test('boots with faults drawn by seed: no coil moves before a decision, none calls, and the fourth in a row is held', () => {
  const boots = Number(process.env.BOOTS ?? 12), draw = random(Number(process.env.BOOT_SEED ?? 7));
  const none = () => ({}), part = (name) => () => ({ broken: [name] });
  const faults = {
    none, crystal: part('crystal'), pll: part('pll'), 'hung converter': part('adc'), 'endless conversion': part('conversion'),
    'hung flash': part('flash'), 'flash that takes nothing': part('dead flash'),
    'shorted wire': () => ({ shorted: [draw(2)] }), 'both wires shorted': () => ({ shorted: [0, 1] }),
    'noise on the line': () => ({ line: Array.from({ length: 400 }, () => draw(256)) }),
    'line stuck low': () => ({ line: new Array(400).fill(0) }),
    'relay pad stuck': () => ({ stuck: [RELAYS[draw(3)], draw(2) === 0] }),
  };
  const count = Object.fromEntries([...Object.keys(faults), 'two of these'].map((name) => [name, { boots: 0, decided: 0, bitten: 0, held: 0 }]));
  // A life ends with the power; the next begins with the same flash, so that every boot costs the emulator the same.
  const flash = commissioned();
  let kept = { flash }, names = [], bites = 0, latest = 0;
  for (let n = 0; n < boots; n++) {
    // Half of what is broken stays so for the next boot; now and then there are two faults.
    if (n === 0 || draw(2) === 0) names = Array.from({ length: 1 + (draw(4) === 0) }, () => Object.keys(faults)[draw(Object.keys(faults).length)]);
    const is = names.map((name) => faults[name]()), all = (key) => is.flatMap((one) => one[key] ?? []);
    const stuck = is.find((one) => one.stuck)?.stuck, line = all('line');
    const h = boot({ reason: draw(3), ...kept, broken: all('broken'), shorted: all('shorted') });
    if (stuck) {
      h.board.pads[stuck[0]].stuck = stuck[1];
      h.board.mcu.gpio[stuck[0]].setInputValue(stuck[1]);
    }
    if (line.length) h.serial.send(line);
    const clockless = names.some((name) => name === 'crystal' || name === 'pll');
    runs(h, clockless ? 15e3 : 6e3);
    const what = `boot ${n}, ${names.join(' and ')}`, of = count[names.length > 1 ? 'two of these' : names[0]];
    assert.ok(h.driven.every((drive) => drive.pin !== CALL), `${what}: a call`);
    assert.equal(h.decidedAt === null, clockless, what);
    if (!clockless) { assert.ok(h.decidedAt < 2e3, what); latest = Math.max(latest, h.decidedAt); }
    const isHeld = bites >= 3;
    if (isHeld) assert.deepEqual(h.driven, [], `${what}: held`);
    of.boots++;
    of.decided += !clockless;
    of.held += isHeld;
    const bitten = h.board.stopped !== null;
    if (bitten) assert.equal(h.board.stopped, 'watchdog', what);
    if (names.some((name) => ['crystal', 'pll', 'hung flash'].includes(name))) assert.ok(bitten, what);
    of.bitten += bitten;
    bites = bitten ? bites + 1 : 0;
    kept = bitten ? { flash: h.board.mcu.flash.slice(), scratch: h.board.scratch, reason: 1 } : { flash };
  }
  console.log(`${boots} boots, the first decision after ${latest.toFixed(0)} ms at most:`);
  for (const [name, of] of Object.entries(count)) console.log(`${name}: ${of.boots} boots, ${of.decided} decided, ${of.bitten} ended by the watchdog, ${of.held} held`);
});

/** The flash of a unit whose chips are named and whose settings are stored. */
function commissioned() {
  const h = runs(boot());
  ['supply', 'slab'].forEach((name, n) => { h.serial.say(`bind ${name} ${h.chips[n].identity}`); h.board.run(600); });
  h.serial.say('apply defaults');
  h.board.run(12e3);
  assert.ok(h.serial.take('ok stored').length, 'stored');
  return h.board.mcu.flash.slice();
}
