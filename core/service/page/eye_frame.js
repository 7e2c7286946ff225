// SPDX-License-Identifier: Apache-2.0
// The eye picture as the feed sends it: "EYE1", uint16 width, uint16 height, float32 low_v, high_v, periods, then
// width * height bytes of density (0 none, 255 most), row 0 on top; all little-endian.

const head_bytes = 20;

// The frame, or null where the bytes are none.
export function read_eye(buffer) {
  if (buffer.byteLength < head_bytes) return null;
  const view = new DataView(buffer);
  if (view.getUint32(0, true) !== 0x31455945) return null;  // "EYE1"
  const width = view.getUint16(4, true);
  const height = view.getUint16(6, true);
  if (width === 0 || height === 0 || buffer.byteLength !== head_bytes + width * height) return null;
  return {
    width,
    height,
    low_v: view.getFloat32(8, true),
    high_v: view.getFloat32(12, true),
    periods: view.getFloat32(16, true),
    density: new Uint8Array(buffer, head_bytes),
  };
}

// A colour for each density: [r, g, b] from the ground to the ink. The square root lifts what is rare, such as the
// single runs that close an eye.
export function ramp(ground, ink) {
  const colours = new Uint8Array(256 * 3);
  for (let density = 0; density < 256; ++density) {
    const share = Math.sqrt(density / 255);
    for (let c = 0; c < 3; ++c) colours[density * 3 + c] = Math.round(ground[c] + (ink[c] - ground[c]) * share);
  }
  return colours;
}

// The pixels (RGBA) of a frame.
export function pixels_of(frame, colours, pixels) {
  for (let i = 0; i < frame.density.length; ++i) {
    const at = frame.density[i] * 3;
    pixels[i * 4] = colours[at];
    pixels[i * 4 + 1] = colours[at + 1];
    pixels[i * 4 + 2] = colours[at + 2];
    pixels[i * 4 + 3] = 255;
  }
}
