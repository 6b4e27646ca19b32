"use strict";
// Bytes over time: a row a byte, a column a stretch of time, the darker the higher the value.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const told = document.getElementById("told");
  const HEIGHT = 7; // of a byte's row, in pixels of the page
  let printing = false;

  function unpack(text) {
    return Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  }

  for (const message of data.messages) {
    message.value = unpack(message.value);
    message.seen = unpack(message.seen);
  }

  const isSeen = (message, column) => (message.seen[column >> 3] >> (7 - (column & 7))) & 1;

  function shades() {
    // Two colours and what lies between them; dark pages go from dark to light.
    const dark = !printing && matchMedia("(prefers-color-scheme: dark)").matches;
    return dark ? [[34, 44, 54], [150, 215, 255]] : [[236, 240, 243], [0, 45, 75]];
  }

  function draw(canvas) {
    const message = data.messages[Number(canvas.dataset.heat)];
    const { bytes, columns, value } = message;
    canvas.width = Math.max(columns, 1);
    canvas.height = Math.max(bytes, 1) * HEIGHT;
    canvas.style.height = `${Math.max(bytes, 1) * HEIGHT}px`;
    const context = canvas.getContext("2d");
    const picture = context.createImageData(canvas.width, canvas.height);
    const [low, high] = shades();
    for (let y = 0; y < canvas.height; y++) {
      const row = Math.floor(y / HEIGHT);
      for (let x = 0; x < columns; x++) {
        const at = 4 * (y * canvas.width + x);
        const share = bytes ? value[row * columns + x] / 255 : 0;
        for (let part = 0; part < 3; part++) picture.data[at + part] = low[part] + share * (high[part] - low[part]);
        picture.data[at + 3] = isSeen(message, x) ? (y % HEIGHT === HEIGHT - 1 ? 150 : 255) : (x + y) % 4 ? 0 : 110;
      }
    }
    context.putImageData(picture, 0, 0);
  }

  const all = document.querySelectorAll("canvas.heat");
  for (const canvas of all) {
    draw(canvas);
    canvas.addEventListener("pointermove", (event) => {
      const message = data.messages[Number(canvas.dataset.heat)], box = canvas.getBoundingClientRect();
      const column = Math.min(Math.floor(((event.clientX - box.left) / box.width) * message.columns), message.columns - 1);
      const byte = Math.min(Math.floor((event.clientY - box.top) / HEIGHT), message.bytes - 1);
      if (column < 0 || byte < 0) return;
      const seen = isSeen(message, column);
      const value = message.value[byte * message.columns + column].toString(16).toUpperCase().padStart(2, "0");
      told.textContent = `${message.id}, byte ${byte}, at ${(column * data.column).toFixed(2)} s: ${seen ? `0x${value}` : "no frame"}`;
    });
  }
  const redraw = () => all.forEach(draw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  addEventListener("beforeprint", () => { printing = true; redraw(); });
  addEventListener("afterprint", () => { printing = false; redraw(); });
})();
