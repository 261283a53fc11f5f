// Lines and areas on a canvas, in mm.

const COLOURS = JSON.parse(document.getElementById('colours').textContent);
const FONT = '13px system-ui, sans-serif';
const LINE = 20; // px, height of words with their ground
const VEIL = 'rgba(255, 255, 255, 0.85)';
const PATTERN_APART = 11; // px between marks along a wall
const LEAST_SHARED = 0.35; // of a picture's own scale: less is not given up for one scale of both
const ARC = 2.4; // mm, radius of the arc of a moment
const WHOLE_ARC = 1.5 * Math.PI; // of the largest moment
const LEAST_ARC = 8; // px

function rgb(colour) {
  return [1, 3, 5].map((k) => parseInt(colour.slice(k, k + 2), 16));
}

function mixed(first, second, share) {
  const [a, b] = [rgb(first), rgb(second)];
  const part = Math.max(0, Math.min(1, share));
  return `rgb(${a.map((value, k) => Math.round(value + part * (b[k] - value))).join(',')})`;
}

// Colour of a traction: signed square root, so that small ones show.
function tractionColour(value, largest) {
  const share = Math.max(-1, Math.min(1, value / largest));
  const place = 0.5 + 0.5 * Math.sign(share) * Math.sqrt(Math.abs(share));
  return COLOURS.ramp[Math.round(place * (COLOURS.ramp.length - 1))];
}

function zoneColour(zone) {
  if (zone === 0) return COLOURS.neutral;
  if (zone === 1) return COLOURS.tension;
  return zone === 2 ? COLOURS.ink : COLOURS.compression;
}

// A canvas with a window of mm on it; y of the window runs up (sense 1) or down (-1). Where the
// window and canvas of another are given, both have one scale if that leaves enough.
class Sheet {
  constructor(canvas, low, high, sense, other = null) {
    Object.assign(this, { canvas, low, high, sense, other, taken: [], drawn: [] });
    this.context = canvas.getContext('2d');
    this.fit();
  }

  fit(width = this.canvas.clientWidth, height = this.canvas.clientHeight) {
    const ratio = Math.max(1, Math.min(3, window.devicePixelRatio || 1));
    this.width = width || Number(this.canvas.dataset.width);
    this.height = height || Number(this.canvas.dataset.height);
    const wide = Math.round(this.width * ratio);
    const tall = Math.round(this.height * ratio);
    if (this.canvas.width !== wide || this.canvas.height !== tall) {
      this.canvas.width = wide;
      this.canvas.height = tall;
    }
    this.ratio = ratio;
    const own = this.scaleOf(this);
    const shared = this.other ? Math.min(own, this.scaleOf(this.other)) : own;
    this.scale = shared >= LEAST_SHARED * own ? shared : own;
    this.middle = [0, 1].map((k) => 0.5 * (this.low[k] + this.high[k]));
  }

  // px per mm of a window that fills its canvas.
  scaleOf({ low, high, canvas }) {
    const pad = 8;
    const [width, height] = canvas === this.canvas ? [this.width, this.height]
      : [canvas.clientWidth, canvas.clientHeight];
    return Math.min((width - 2 * pad) / (high[0] - low[0]), (height - 2 * pad) / (high[1] - low[1]));
  }

  clear(colour) {
    this.context.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    this.context.fillStyle = colour;
    this.context.fillRect(0, 0, this.width, this.height);
    this.context.lineJoin = 'round';
    this.taken = [];
    this.drawn = [];
  }

  // What no words shall hide: a line, as points a few px apart.
  keepClear(points) {
    for (let k = 0; k + 1 < points.length; k += 1) {
      const [a, b] = [points[k], points[k + 1]];
      const count = Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / 4);
      for (let i = 0; i <= count; i += 1) {
        const share = i / Math.max(1, count);
        this.drawn.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
      }
    }
  }

  px(x, y) {
    return [0.5 * this.width + this.scale * (x - this.middle[0]),
      0.5 * this.height - this.sense * this.scale * (y - this.middle[1])];
  }

  mm(px, py) {
    return [this.middle[0] + (px - 0.5 * this.width) / this.scale,
      this.middle[1] - this.sense * (py - 0.5 * this.height) / this.scale];
  }

  // Points of a packed row (x, y, x, y, ...) from one index on, in px.
  points(array, row, from = 0, count = null) {
    const units = array.row(row);
    const last = count === null ? units.length / 2 : from + count;
    const found = [];
    for (let k = from; k < last; k += 1) {
      found.push(this.px(units[2 * k] * array.step, units[2 * k + 1] * array.step));
    }
    return found;
  }

  path(points, closed) {
    this.context.beginPath();
    points.forEach(([x, y], k) => {
      if (k === 0) this.context.moveTo(x, y); else this.context.lineTo(x, y);
    });
    if (closed) this.context.closePath();
  }

  polygon(points, fill, edge, width = 1.2) {
    this.path(points, true);
    if (fill) { this.context.fillStyle = fill; this.context.fill(); }
    if (edge) { this.stroke(edge, width); }
  }

  stroke(colour, width, dash = []) {
    this.context.setLineDash(dash);
    this.context.strokeStyle = colour;
    this.context.lineWidth = width;
    this.context.stroke();
    this.context.setLineDash([]);
  }

  line(points, colour, width, dash = []) {
    this.path(points, false);
    this.stroke(colour, width, dash);
  }

  // An arrow; returns its direction, or null where it is too short to be drawn.
  arrow(tail, step) {
    const length = Math.hypot(step[0], step[1]);
    if (length < 3) return null;
    const along = step.map((part) => part / length);
    const size = Math.min(10, 0.6 * length);
    const tip = [tail[0] + step[0], tail[1] + step[1]];
    const foot = [tip[0] - size * along[0], tip[1] - size * along[1]];
    this.line([tail, foot], COLOURS.paper, 6);
    // the shaft reaches into the head: no seam
    this.line([tail, foot.map((value, k) => value + along[k])], COLOURS.force, 3);
    this.head(tip, along, size);
    this.keepClear([tail, tip]);
    return along;
  }

  head(tip, along, size) {
    const barb = (side) => [0, 1].map((k) => tip[k] - size * along[k]
      + (k ? 1 : -1) * side * 0.5 * size * along[1 - k]);
    this.polygon([tip, barb(1), barb(-1)], COLOURS.force, null);
  }

  // A moment about a place: a share of the largest, clockwise if positive; middle is an angle.
  arc(place, middle, share) {
    const radius = ARC * this.scale;
    const sweep = WHOLE_ARC * share;
    if (Math.abs(sweep) * radius < LEAST_ARC) return;
    const count = Math.ceil(Math.abs(sweep) * 8) + 2;
    const points = Array.from({ length: count }, (_, k) => {
      const angle = middle + sweep * (k / (count - 1) - 0.5);
      return [place[0] + radius * Math.cos(angle), place[1] + radius * Math.sin(angle)];
    });
    this.line(points, COLOURS.paper, 5);
    this.line(points, COLOURS.force, 2);
    const end = middle + 0.5 * sweep;
    const sense = Math.sign(sweep);
    const along = [-sense * Math.sin(end), sense * Math.cos(end)];
    const tip = points[count - 1].map((value, k) => value + 5 * along[k]);
    this.head(tip, along, 9);
    this.keepClear(points);
  }

  // What stood still: a small crossed circle, if it lies in the picture.
  centre([x, y]) {
    if (x < 6 || y < 6 || x > this.width - 6 || y > this.height - 6) return;
    this.context.beginPath();
    this.context.arc(x, y, 5.5, 0, 7);
    this.context.fillStyle = COLOURS.paper;
    this.context.fill();
    this.stroke(COLOURS.ink, 1.6);
    this.line([[x - 5.5, y], [x + 5.5, y]], COLOURS.ink, 1.6);
    this.line([[x, y - 5.5], [x, y + 5.5]], COLOURS.ink, 1.6);
    this.taken.push({ x, y, half: 6 });
  }

  // Words near the tip of an arrow, within the sheet, clear of other words and, where there is
  // room, of all that is drawn.
  beside(tip, along, words) {
    this.context.font = FONT;
    const half = 0.5 * this.context.measureText(words).width + 3;
    const ahead = Math.atan2(along[1], along[0]);
    const places = [3, 14, 28].flatMap((gap) => [0, 1, -1, 2, -2, 3, -3, 4].map((k) => {
      const [dx, dy] = [Math.cos(ahead + (k * Math.PI) / 4), Math.sin(ahead + (k * Math.PI) / 4)];
      return [tip[0] + dx * (half + gap), tip[1] + dy * (LINE / 2 + gap)];
    }));
    const place = this.clearest(places, half);
    if (place) this.text(words, place, { align: 'center', colour: COLOURS.force, halo: true });
  }

  // The first of places where words hide least of what is drawn and no other words; it is taken.
  clearest(places, half) {
    const free = places.filter(([x, y]) => x >= half && x <= this.width - half && y >= LINE / 2
      && y <= this.height - LINE / 2
      && this.taken.every((other) => Math.abs(other.y - y) >= LINE
        || Math.abs(other.x - x) >= other.half + half));
    const hidden = free.map(([x, y]) => this.drawn.filter(
      ([a, b]) => Math.abs(a - x) < half && Math.abs(b - y) < LINE / 2).length);
    const best = hidden.indexOf(Math.min(...hidden));
    if (best < 0) return null;
    const [x, y] = free[best];
    this.taken.push({ x, y, half });
    return free[best];
  }

  text(words, [x, y], {
    align = 'left', bold = false, colour = COLOURS.ink, back = null, halo = false,
  } = {}) {
    const context = this.context;
    context.font = `${bold ? '600 ' : ''}${FONT}`;
    context.textAlign = align;
    context.textBaseline = 'middle';
    if (back) {
      const wide = context.measureText(words).width;
      const left = align === 'left' ? x : x - (align === 'right' ? wide : wide / 2);
      context.fillStyle = back;
      context.fillRect(left - 4, y - 10, wide + 8, 20);
    }
    if (halo) {
      context.strokeStyle = COLOURS.paper;
      context.lineWidth = 4;
      context.strokeText(words, x, y);
    }
    context.fillStyle = colour;
    context.fillText(words, x, y);
  }

  // A wall as a ribbon: colours by segment, strokes across compression, dots on tension.
  ribbon(points, colours, zones, width) {
    this.line(points, COLOURS.metal, width + 2);
    for (let k = 0; k + 1 < points.length; k += 1) {
      this.line([points[k], points[k + 1]], colours[k], width);
    }
    let run = 0.5 * PATTERN_APART;
    for (let k = 0; k + 1 < points.length; k += 1) {
      const [a, b] = [points[k], points[k + 1]];
      const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
      run += length;
      if (run < PATTERN_APART || length === 0) continue;
      run = 0;
      const at = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
      const across = [-(b[1] - a[1]) / length, (b[0] - a[0]) / length];
      this.mark(zones[k], at, across, width);
    }
  }

  mark(zone, at, across, width) {
    if (zone === 0) return;
    if (zone === 1) {
      this.context.beginPath();
      this.context.arc(at[0], at[1], 2, 0, 7);
      this.context.fillStyle = COLOURS.ink;
      this.context.fill();
      return;
    }
    const reach = (zone === 2 ? 1.1 : 0.75) * width;
    this.line([1, -1].map((side) => [at[0] + side * reach * across[0],
      at[1] + side * reach * across[1]]), COLOURS.ink, zone === 2 ? 3 : 1.6);
  }

  crosshair([x, y]) {
    for (const [colour, width] of [[COLOURS.paper, 4], [COLOURS.ink, 1.6]]) {
      this.line([[x - 9, y], [x + 9, y]], colour, width);
      this.line([[x, y - 9], [x, y + 9]], colour, width);
    }
  }

  bar(length, { amid = false } = {}) {
    const base = this.height - 12;
    const wide = length * this.scale;
    const left = amid ? 0.5 * (this.width - wide) : 10;
    this.context.fillStyle = VEIL;
    this.context.fillRect(left - 6, base - 24, Math.max(wide, 44) + 14, 34);
    this.line([[left, base], [left + wide, base]], COLOURS.ink, 3);
    this.text(`${length} mm`, [left, base - 12]);
    this.taken.push({ x: left - 6 + 0.5 * wide, y: base - 12, half: 0.5 * wide + 14 });
  }
}

// Nearest of points in px to a place, or null beyond a reach.
function nearest(points, [x, y], reach) {
  let best = null;
  let least = reach;
  points.forEach(([a, b], k) => {
    const apart = Math.hypot(a - x, b - y);
    if (apart <= least) { least = apart; best = k; }
  });
  return best;
}
