// The Pico image in the emulator. Its path: PICO_IMAGE, or where cargo puts it.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import test from 'node:test';
import { Board } from '../board.mjs';
import { Bus, Ds18b20 } from '../onewire.mjs';
import { random } from '../random.mjs';
import { Serial, checksum } from '../serial.mjs';
import { segments } from '../elf.mjs';
import { uf2 } from '../uf2.mjs';

const IMAGE = process.env.PICO_IMAGE
  ?? new URL('../../boards/pico/target/thumbv6m-none-eabi/release/firmware-pico', import.meta.url).pathname;
assert.ok(fs.existsSync(IMAGE), `no image at ${IMAGE}: build firmware/boards/pico first, or set PICO_IMAGE`);

const CIRCULATOR = 16, CALL = 17, ALARM = 18, LAMP = 25, BUS = 15, SECOND_BUS = 13, BUTTON = 14;
const NAMES = ['supply', 'return', 'slab', 'outdoor'];
const NIGHT = [8, 6, 3.5, -4];

/** A house: four chips at these temperatures and corners, on a board with this flash. */
function house({ celsius = NIGHT, corner = {}, ...kept } = {}) {
  const board = new Board(IMAGE, kept);
  const bus = new Bus(board, BUS, { riseNs: corner.riseNs });
  const chips = celsius.map((value, n) => bus.add(new Ds18b20(0x1200 + n * 37, value, corner)));
  const serial = new Serial(board);
  board.mcu.gpio[BUTTON].setInputValue(true); // pulled up
  const second = new Bus(board, SECOND_BUS); // pulled up, and no chip on it
  return { board, bus, second, chips, serial };
}

/** The same house after its watchdog bit. */
function again(h) {
  const { scratch, mcu } = h.board;
  return house({ flash: mcu.flash.slice(), scratch, reason: 1, celsius: h.chips.map((chip) => chip.celsius) });
}

function ask(h, text) {
  h.serial.take();
  h.serial.say(text);
  h.board.run(600);
  assert.equal(h.board.stopped, null);
  return h.serial.take();
}

function name(h) {
  h.chips.forEach((chip, n) => assert.deepEqual(ask(h, `bind ${NAMES[n]} ${chip.identity}`).filter((l) => !l.startsWith('row')), ['ok named and stored']));
}

let columns;
/** Trace rows that came, as objects by column. */
function rows(h) {
  const lines = h.serial.take();
  columns ??= [...lines, ...ask(h, 'columns')].find((line) => line.startsWith('columns ')).slice(8).split(',');
  return lines.filter((line) => line.startsWith('row ')).map((line) => {
    const cells = line.slice(4).split(',');
    return Object.fromEntries(columns.map((column, n) => [column, cells[n]]));
  });
}

function settled(h, seconds = 25) {
  h.serial.take();
  h.board.run(seconds * 1e3);
  assert.equal(h.board.stopped, null);
  const all = rows(h);
  assert.ok(all.length >= Math.floor(seconds / 10), 'rows come every ten seconds');
  return all.at(-1);
}

let named; // one commissioned flash for the tests that follow

test('the first decision is driven, the columns are told, sensors are lost until named', () => {
  const h = house();
  h.board.run(2e3);
  assert.deepEqual([CIRCULATOR, CALL, ALARM].map((pin) => h.board.level(pin)), [true, false, false]);
  h.board.run(12e3);
  const [first] = rows(h);
  assert.match(first.event, /^boot power_on boots=1 .*settings_lost=1/);
  assert.equal(first.supply_status, 'absent');
  assert.equal(h.board.level(ALARM), false, 'not energised: it rings');
  assert.equal(h.serial.broken, 0);
});

test('chips are found, named over the line, and read exactly', () => {
  const h = house();
  h.board.run(1500);
  const listed = ask(h, 'sensors').filter((line) => line.startsWith('chip '));
  assert.equal(listed.length, 4);
  h.chips.forEach((chip) => assert.ok(listed.some((line) => line.includes(chip.identity))));
  name(h);
  rows(h);
  const row = settled(h);
  NAMES.forEach((sensor, n) => assert.deepEqual([Number(row[`${sensor}_c`]), row[`${sensor}_status`]], [NIGHT[n], 'frame']));
  named = h.board.mcu.flash.slice();
  const { one, zero, reset, recovery, glitches } = h.bus.seen;
  const times = `one ${one.least}..${one.most} us, zero ${zero.least}..${zero.most}, reset ${reset.least}..${reset.most}, recovery >= ${recovery.least}`;
  // Data sheet: one 1..15 us, zero 60..120, reset 480..960, recovery at least 1.
  assert.ok(one.least >= 1 && one.most <= 15 && zero.least >= 60 && zero.most <= 120 && reset.least >= 480 && reset.most <= 960 && recovery.least >= 1, times);
  assert.equal(glitches, 0);
  // Boot, lists, naming and steps together.
  const used = h.board.stackUsed;
  assert.ok(used > 1024 && used <= 16 * 1024, `${used} bytes of stack`);
  console.log(`${times}; stack at most ${used} bytes`);
});

test('names and settings survive a power cut; every corner of the data sheet is read right', () => {
  const corners = [
    { lookUs: 15, holdUs: 15, waitUs: 15, presenceUs: 60, riseNs: 100 },
    { lookUs: 59, holdUs: 60, waitUs: 60, presenceUs: 240, riseNs: 2000 },
    { lookUs: 15, holdUs: 60, waitUs: 60, presenceUs: 60, riseNs: 2000 },
  ];
  const celsius = [85, -10.125, 25.0625, -55];
  for (const corner of corners) {
    const h = house({ flash: named.slice(), celsius, corner });
    const row = settled(h, 45);
    NAMES.forEach((sensor, n) => assert.deepEqual([Number(row[`${sensor}_c`]), row[`${sensor}_status`]], [celsius[n], 'frame'], JSON.stringify(corner)));
  }
});

test('wrong checksums, unplugged chips, lost power and a short are told apart and recovered from', () => {
  const h = house({ flash: named.slice() });
  settled(h);
  h.chips[0].flip = 0x10;
  h.chips[1].plugged = false;
  h.chips[2].celsius = 85;
  let row = settled(h);
  assert.deepEqual([row.supply_status, row.return_status, row.slab_status, row.outdoor_status], ['checksum', 'absent', 'frame', 'frame']);
  h.chips[0].flip = 0;
  h.chips[1].plugged = true;
  h.chips[2].celsius = 3.5;
  settled(h);
  // Power lost in the middle of a conversion: the frame is whole and says 85.
  const chip = h.chips[3];
  for (let n = 0; n < 200 && chip.readyAt === null; n++) h.board.run(100);
  h.board.run(200);
  chip.losePower();
  h.serial.take();
  h.board.run(2e3);
  assert.equal(rows(h).at(-1).outdoor_status, 'power_on');
  row = settled(h);
  assert.deepEqual([Number(row.outdoor_c), row.outdoor_status, row.supply_status, row.return_status], [-4, 'frame', 'frame', 'frame']);
  h.bus.shorted = true;
  h.bus.update();
  assert.equal(settled(h).slab_status, 'short');
  h.bus.shorted = false;
  h.bus.update();
  assert.equal(settled(h).slab_status, 'frame');
});

test('a short on one wire of the bus leaves the chips on the other', () => {
  const h = house();
  const { second } = h;
  h.bus.chips.splice(2).forEach((chip) => second.add(chip));
  h.board.run(1500);
  name(h);
  const listed = ask(h, 'sensors').filter((line) => line.startsWith('chip ')).map((line) => line.slice(-6));
  assert.deepEqual(listed, ['wire 1', 'wire 1', 'wire 2', 'wire 2']);
  const statuses = () => { const row = settled(h); return NAMES.map((sensor) => row[`${sensor}_status`]); };
  assert.deepEqual(statuses(), ['frame', 'frame', 'frame', 'frame']);
  for (const [bus, expected] of [[h.bus, ['short', 'short', 'frame', 'frame']], [second, ['frame', 'frame', 'short', 'short']]]) {
    bus.shorted = true;
    bus.update();
    assert.deepEqual(statuses(), expected);
    bus.shorted = false;
    bus.update();
  }
  assert.deepEqual(statuses(), ['frame', 'frame', 'frame', 'frame']);
  assert.ok([BUS, SECOND_BUS].every((pin) => h.board.mcu.gpio[pin].pullupEnabled), 'a wire that is not there is at rest');
});

test('a garbled frame is read again within the step, and counted', () => {
  const h = house({ flash: named.slice() });
  settled(h);
  for (let n = 0; n < 3; n++) {
    const reads = h.chips[2].reads;
    h.chips[2].garble = 3;
    const row = settled(h, 10.5);
    assert.deepEqual([Number(row.slab_c), row.slab_status], [3.5, 'frame']);
    assert.ok(h.chips[2].reads - reads >= 4, `${h.chips[2].reads - reads} frames`);
  }
  const status = ask(h, 'status').find((line) => line.includes(' garbled='));
  assert.match(status, / garbled=9$/);
});

test('a frost night runs the circulator after its boot delay; the trace and the pins agree', () => {
  const h = house({ flash: named.slice(), celsius: [2.5, 1.9, 1.2, -9] });
  let on = null;
  for (let n = 0; n < 20 && on === null; n++) {
    h.board.run(10e3);
    if (h.board.level(CIRCULATOR) === false) on = h.board.ms;
  }
  assert.equal(h.board.stopped, null);
  assert.ok(on > 60e3 && on < 105e3, `60 s boot delay and up to 30 s jitter: ${on} ms`);
  h.board.run(10e3);
  const row = rows(h).at(-1);
  assert.deepEqual([row.circulator, row.reason], ['1', 'frost']);
  assert.equal(h.board.level(CALL), row.boiler_call === '1');
  assert.equal(h.board.level(LAMP) === null, false);
});

test('a power cut in any flash operation keeps what was acknowledged', () => {
  const rounds = Number(process.env.CUT_ROUNDS ?? 4); // some hundreds by hand
  let flash = named.slice(), target = '1.500', cuts = 0;
  for (let n = 1; n <= rounds; n++) {
    const h = house({ flash });
    h.board.cutAt = 1 + (n - 1) % 6; // page programs and erases, from the boot's own save on
    h.board.run(1500);
    const wanted = (1.5 + n % 20 / 100).toFixed(3);
    if (!h.board.stopped) {
      h.serial.take();
      h.serial.say(`set target ${wanted}`);
      h.board.run(400);
      h.serial.say('apply');
      h.board.run(600);
      if (h.serial.take('ok stored').length) target = wanted;
    }
    if (h.board.stopped) { assert.equal(h.board.stopped, 'power cut'); cuts++; }
    const next = house({ flash: h.board.mcu.flash.slice() });
    next.board.run(1500);
    const shown = ask(next, 'show target').find((line) => line.startsWith('setting target'));
    assert.ok(shown.includes(` ${target} C`) || shown.includes(` ${wanted} C`), `${shown}, not ${target}`);
    target = shown.split(' ')[2];
    assert.equal(ask(next, 'sensors').filter((line) => line.startsWith('name ') && !line.includes('unbound')).length, 4);
    flash = next.board.mcu.flash.slice();
  }
  assert.ok(cuts >= rounds / 2, `${cuts} cuts`);
  console.log(`${cuts} power cuts in ${rounds} rounds, nothing acknowledged lost`);
});

test('an output that does not follow lets the watchdog bite, and the next boot says so', () => {
  const h = house({ flash: named.slice() });
  settled(h);
  h.board.pads[CIRCULATOR].stuck = false;
  h.board.mcu.gpio[CIRCULATOR].setInputValue(false);
  const from = h.board.ms;
  h.board.run(10e3);
  assert.equal(h.board.stopped, 'watchdog');
  assert.ok(h.board.ms - from > 3e3 && h.board.ms - from < 5e3, `${h.board.ms - from} ms`);
  const next = again(h);
  next.board.run(2e3);
  assert.match(rows(next)[0].event, /^boot watchdog /);
});

test('the button silences the bell, and only the bell', () => {
  const h = house();
  h.board.run(15e3);
  assert.equal(h.board.level(ALARM), false, 'nothing is named or stored: it rings');
  h.board.mcu.gpio[BUTTON].setInputValue(false);
  h.board.run(800);
  h.board.mcu.gpio[BUTTON].setInputValue(true);
  h.board.run(400);
  assert.deepEqual([CIRCULATOR, CALL, ALARM].map((pin) => h.board.level(pin)), [true, false, true]);
  assert.match(settled(h).alarms, /settings_lost/);
});

test('noise on the line changes nothing', () => {
  const h = house({ flash: named.slice() });
  h.board.run(1500);
  const before = ask(h, 'settings').filter((line) => line.startsWith('setting '));
  const draw = random(1);
  h.serial.send(Array.from({ length: 3000 }, () => draw(256)));
  h.serial.send(Buffer.from('\nmode drained\nmode drained~0000\nset target 4.0~12'));
  h.board.run(800);
  h.serial.send(Buffer.from('\n'));
  h.board.run(12e3);
  assert.equal(h.board.stopped, null);
  ask(h, 'stop');
  assert.deepEqual(ask(h, 'settings').filter((line) => line.startsWith('setting ')), before);
  assert.ok(before.length > 40);
  const status = ask(h, 'status').find((line) => line.includes('wrong_checksum='));
  assert.ok(Number(/wrong_checksum=(\d+)/.exec(status)[1]) >= 2, status);
});

test('a UF2 file carries the same bytes', () => {
  const parts = segments(IMAGE), file = uf2(parts), flat = new Map();
  for (let at = 0; at < file.length; at += 512) {
    assert.equal(file.readUInt32LE(at + 28), 0xe48bff56);
    const address = file.readUInt32LE(at + 12);
    for (let n = 0; n < 256; n++) flat.set(address + n, file[at + 32 + n]);
  }
  parts.forEach(({ address, bytes }) => bytes.forEach((byte, n) => assert.equal(flat.get(address + n), byte)));
  assert.equal(checksum('123456789'), '29b1');
});
