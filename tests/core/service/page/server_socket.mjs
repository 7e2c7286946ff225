// SPDX-License-Identifier: Apache-2.0
// The server's side of a WebSocket (RFC 6455), as much as the stand-in needs: it sends, and answers a close. The viewer
// sends nothing else.
import {createHash} from "node:crypto";

const guid = "258EAFA5-E914-47DA-95CA-C5AB0DC85B11";  // RFC 6455, 1.3

function frame(opcode, payload) {
  const length = payload.length;
  let head;
  if (length < 126) {
    head = Buffer.from([0x80 | opcode, length]);
  } else if (length < 65536) {
    head = Buffer.from([0x80 | opcode, 126, 0, 0]);
    head.writeUInt16BE(length, 2);
  } else {
    head = Buffer.alloc(10);
    head[0] = 0x80 | opcode;
    head[1] = 127;
    head.writeBigUInt64BE(BigInt(length), 2);
  }
  return Buffer.concat([head, payload]);
}

// Takes over the connection of an upgrade request: { text(object), binary(buffer), cut() }.
export function accept_socket(request, connection, closed) {
  const key = createHash("sha1").update(request.headers["sec-websocket-key"] + guid).digest("base64");
  connection.write(
      `HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Accept: ${
          key}\r\n\r\n`);
  connection.setNoDelay(true);
  connection.on("close", closed);
  connection.on("error", () => connection.destroy());
  connection.on("data", (bytes) => {
    if ((bytes[0] & 0x0f) === 8) connection.end(frame(8, Buffer.alloc(0)));
  });
  const send = (opcode, payload) => {
    if (!connection.destroyed && connection.writable) connection.write(frame(opcode, payload));
  };
  return {
    text: (object) => send(1, Buffer.from(JSON.stringify(object))),
    binary: (buffer) => send(2, buffer),
    cut: () => connection.destroy(),
  };
}
