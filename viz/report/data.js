// Data of the page: unpacked once, arrays when they are first looked at.

const MISSING = { int8: -128, int16: -32768, int32: -2147483648 };
const ARRAYS = { int8: Int8Array, int16: Int16Array, int32: Int32Array };

function bytesOf(text) {
  const raw = atob(text.trim());
  const bytes = new Uint8Array(raw.length);
  for (let k = 0; k < raw.length; k += 1) bytes[k] = raw.charCodeAt(k);
  return bytes;
}

async function inflated(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// One array: whole numbers in units of the last digit that is shown.
class Packed {
  constructor(block, place) {
    Object.assign(this, { block, place, shape: place.shape, step: place.step, found: null });
    this.stride = place.shape.slice(1).reduce((a, b) => a * b, 1);
    this.missing = MISSING[place.kind];
  }

  get units() {
    if (this.found === null) {
      const kind = ARRAYS[this.place.kind];
      const count = this.stride * this.shape[0];
      const end = this.place.at + count * kind.BYTES_PER_ELEMENT;
      const values = new kind(this.block.slice(this.place.at, end));
      // differences from row to row were kept; sums wrap round as they did
      for (let k = this.stride; k < count; k += 1) values[k] += values[k - this.stride];
      this.found = values;
    }
    return this.found;
  }

  row(index) {
    const first = index * this.stride;
    return this.units.subarray(first, first + this.stride);
  }

  // A value, or null where there is none.
  at(row, column = 0) {
    const unit = this.units[row * this.stride + column];
    return unit === this.missing ? null : unit * this.step;
  }

  // Lowest and highest of pairs (x, y), over all rows.
  reach() {
    const low = [Infinity, Infinity];
    const high = [-Infinity, -Infinity];
    this.units.forEach((unit, k) => {
      const value = unit * this.step;
      low[k % 2] = Math.min(low[k % 2], value);
      high[k % 2] = Math.max(high[k % 2], value);
    });
    return { low, high };
  }
}

function withArrays(part, block) {
  if (Array.isArray(part)) return part.map((value) => withArrays(value, block));
  if (part === null || typeof part !== 'object') return part;
  if ('kind' in part && 'shape' in part && 'at' in part) return new Packed(block, part);
  return Object.fromEntries(
    Object.entries(part).map(([key, value]) => [key, withArrays(value, block)]));
}

async function readRun(element, index) {
  const bytes = await inflated(bytesOf(element.textContent));
  const end = bytes.indexOf(10);
  const head = JSON.parse(new TextDecoder().decode(bytes.subarray(0, end)));
  const block = bytes.buffer.slice(bytes.byteOffset + end + 1);
  const run = { ...head, cases: withArrays(head.cases, block), index };
  run.pictures = JSON.parse(document.getElementById(`pictures-${index}`).textContent);
  return run;
}

// Index of the last of rising days at or before a day.
function lastBefore(days, day) {
  let found = 0;
  days.forEach((value, k) => { if (value <= day + 1e-9) found = k; });
  return found;
}
