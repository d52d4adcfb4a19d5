/** Draws that follow from a seed: a function of `n` that gives whole numbers from 0 to below `n`. */
export function random(seed) {
  return (n) => {
    seed = (Math.imul(seed, 1103515245) + 12345) & 0x7fffffff;
    return Math.floor(seed / 2 ** 31 * n); // its lower bits repeat soon
  };
}
