// SPDX-License-Identifier: Apache-2.0
// An eye frame as the daemon sends it ("EYE1"), of an invented signal: run lengths of 3 to 11 channel bits through a
// low-pass, folded at the channel bit. For pictures and tests of the page only.

function generator(seed) {
  let state = seed >>> 0;
  return () => {  // xorshift32
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 2 ** 32;
  };
}

export function made_up_eye(
    {width = 240, height = 120, low_v = 0.4, high_v = 2.8, periods = 4, level_v = 1.2, seed = 1} = {}) {
  const random = generator(seed * 2654435761 + 1);
  const steps = 24;  // samples in a channel bit
  const density = new Uint32Array(width * height);
  let value = 0, sign = 1, at = 0, most = 1;
  for (let run = 0; run < 700; ++run) {
    const length = 3 + Math.floor(random() ** 1.6 * 9);
    sign = -sign;
    for (let i = 0; i < length * steps; ++i, ++at) {
      // A first-order low-pass: the short runs do not reach the outer levels.
      value += (sign - value) * (1 - Math.exp(-1.15 / steps));
      const volts = (low_v + high_v) / 2 + (value * level_v) / 2 + (random() - 0.5) * 0.035;
      const x = Math.floor((((at + (random() - 0.5) * 3) / steps) % periods) / periods * width);
      const y = Math.floor(((high_v - volts) / (high_v - low_v)) * height);
      if (x < 0 || x >= width || y < 0 || y >= height) continue;
      most = Math.max(most, ++density[y * width + x]);
    }
  }
  const frame = Buffer.alloc(20 + width * height);
  frame.write("EYE1", 0, "latin1");
  frame.writeUInt16LE(width, 4);
  frame.writeUInt16LE(height, 6);
  frame.writeFloatLE(low_v, 8);
  frame.writeFloatLE(high_v, 12);
  frame.writeFloatLE(periods, 16);
  const dense = most * 0.6;
  density.forEach((count, i) => {
    frame[20 + i] = Math.min(255, Math.round((count / dense) * 255));
  });
  return frame;
}
