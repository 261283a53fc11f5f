// The teeth of a case, from the front and from above.

const ARROW = 6; // mm, length of the largest force
const LEAST_APART = 110; // px of width for each tooth from which arrows have their numbers
const LEAST_NAMED = 260; // px of width from which the sides are named

function unionOf(reaches) {
  return {
    low: [0, 1].map((k) => Math.min(...reaches.map((reach) => reach.low[k]))),
    high: [0, 1].map((k) => Math.max(...reaches.map((reach) => reach.high[k]))),
  };
}

class ArchView {
  constructor(canvas, run, found, seen) {
    Object.assign(this, { canvas, run, found, seen });
    this.fields = ['zone', 'traction', 'displacement'];
    const names = seen === 'front' ? ['body', 'wall', 'start'] : ['above', 'above_start'];
    const reaches = found.arch.teeth.flatMap((tooth) => names.map((name) => tooth[name]))
      .map((array) => array.reach());
    const { low, high } = unionOf([...reaches, ...this.arrows()]);
    const margin = 1.5;
    // y of these drawings runs down the screen
    this.sheet = new Sheet(canvas, low.map((v) => v - margin), high.map((v) => v + margin), -1);
  }

  // Length of the arrow of the run's own largest force, mm.
  get longest() { return (ARROW * this.run.own.force_N) / this.run.scales.force_N; }

  // What the arrows of all days reach.
  arrows() {
    const name = this.seen === 'front' ? 'force_front' : 'force_above';
    return this.found.arch.teeth.flatMap((tooth) => {
      const array = tooth[name];
      return Array.from({ length: array.shape[0] }, (_, step) => {
        const [x, y, dx, dy] = Array.from(array.row(step)).map((v) => v * array.step);
        const tip = [x + this.longest * dx, y + this.longest * dy];
        return { low: tip, high: tip };
      });
    });
  }

  step(day) { return lastBefore(this.run.days, day); }

  draw(day, field, probe) {
    const { sheet } = this;
    const step = this.step(day);
    sheet.fit();
    sheet.clear(COLOURS.paper);
    if (this.seen === 'front') this.drawFront(step, field);
    else this.drawAbove(step, field);
    this.drawForces(step);
    this.drawNames(step);
    this.nameSides();
    sheet.bar(5);
    if (probe) sheet.crosshair(probe);
  }

  // The patient's sides; seen from the side of a tooth, its own.
  nameSides() {
    const { sheet } = this;
    const own = this.seen === 'front' && this.found.arch.seen === 'side';
    const [right, left] = own ? this.found.teeth[0].sides.map(word)
      : [t('patient_left'), t('patient_right')];
    if (sheet.width < LEAST_NAMED && !own) return;
    sheet.text(left, [8, 14], { colour: COLOURS.quiet });
    sheet.text(right, [sheet.width - 8, 14], { align: 'right', colour: COLOURS.quiet });
  }

  drawFront(step, field) {
    const { sheet } = this;
    for (const tooth of this.found.arch.teeth) this.drawWalls(tooth, step, field);
    for (const tooth of this.found.arch.teeth) {
      const body = sheet.points(tooth.body, step);
      sheet.polygon(body, COLOURS.tooth, COLOURS.tooth_edge);
      sheet.polygon(sheet.points(tooth.root, step), COLOURS.root, COLOURS.tooth_edge);
      if (field === 'displacement') this.drawMoved(body, tooth.moved.row(step), tooth.moved.step);
      this.drawStart(startPoints(sheet, tooth.start));
      sheet.polygon(sheet.points(tooth.bracket, step), COLOURS.rule, COLOURS.metal);
    }
    this.drawWire(this.found.arch.wire_front, step);
  }

  drawWalls(tooth, step, field) {
    const { sheet } = this;
    const count = tooth.wall.shape[2];
    const normal = tooth.normal.row(step);
    const zone = tooth.zone.row(step);
    for (const side of [0, 1]) {
      const points = sheet.points(tooth.wall, step, side * count, count);
      const zones = Array.from(zone.subarray(side * count, (side + 1) * count));
      const colours = zones.map((value, k) => this.wallColour(field, value,
        normal[side * count + k] * tooth.normal.step));
      const shown = field === 'displacement' ? zones.map(() => 0) : zones;
      sheet.ribbon(points, colours, shown, 7);
    }
  }

  wallColour(field, zone, normal) {
    if (field === 'zone') return zoneColour(zone);
    if (field === 'traction') return tractionColour(normal, this.run.scales.wall_traction_kPa);
    return COLOURS.neutral;
  }

  drawMoved(points, units, unit) {
    const largest = this.run.scales.moved_mm;
    for (let k = 0; k < points.length; k += 1) {
      const next = (k + 1) % points.length;
      const mean = 0.5 * (units[k] + units[next]) * unit;
      this.sheet.line([points[k], points[next]],
        mixed(COLOURS.rule, COLOURS.moved, mean / largest), 6);
    }
  }

  drawStart(points) {
    this.sheet.path(points, true);
    this.sheet.stroke(COLOURS.quiet, 1.4, [5, 4]);
  }

  drawWire(array, step) {
    if (array) this.sheet.line(this.sheet.points(array, step), COLOURS.ink, 2.6);
  }

  drawAbove(step, field) {
    const { sheet } = this;
    for (const tooth of this.found.arch.teeth) {
      const hull = sheet.points(tooth.above, step);
      sheet.polygon(hull, COLOURS.tooth, COLOURS.tooth_edge);
      if (field === 'displacement') {
        this.drawMoved(hull, tooth.above_moved.row(step), tooth.above_moved.step);
      }
      this.drawStart(sheet.points(tooth.above_start, step));
    }
    this.drawWire(this.found.arch.wire_above, step);
  }

  drawForces(step) {
    const { sheet } = this;
    const name = this.seen === 'front' ? 'force_front' : 'force_above';
    for (const tooth of this.found.arch.teeth) {
      const [x, y, dx, dy] = Array.from(tooth[name].row(step)).map((v) => v * tooth[name].step);
      const tail = sheet.px(x, y);
      const tip = sheet.px(x + this.longest * dx, y + this.longest * dy);
      const size = Math.hypot(dx, dy) * this.run.own.force_N;
      const named = sheet.width / this.found.arch.teeth.length >= LEAST_APART;
      sheet.arrow(tail, [tip[0] - tail[0], tip[1] - tail[1]], named ? `${num(size)} N` : '');
    }
  }

  drawNames(step) {
    const { sheet } = this;
    this.found.arch.teeth.forEach((tooth, k) => {
      const outline = sheet.points(this.seen === 'front' ? tooth.root : tooth.above, step);
      const mean = [0, 1].map(
        (c) => outline.reduce((sum, point) => sum + point[c], 0) / outline.length);
      sheet.text(String(this.found.teeth[k].number), mean, { align: 'center', bold: true });
    });
  }

  probe(day, field, place) {
    const step = this.step(day);
    if (field === 'displacement') return this.probeMoved(step, place);
    if (this.seen === 'front' && field !== 'density') return this.probeWall(step, field, place);
    return null;
  }

  probeMoved(step, place) {
    const names = this.seen === 'front' ? ['body', 'moved'] : ['above', 'above_moved'];
    return this.nearestOf((tooth) => this.sheet.points(tooth[names[0]], step), place,
      (tooth, node) => ({
        key: 'probe_moved', value: tooth[names[1]].at(step, node), digits: 3, node,
      }));
  }

  probeWall(step, field, place) {
    return this.nearestOf((tooth) => this.sheet.points(tooth.wall, step), place,
      (tooth, node) => ({
        key: field === 'zone' ? 'probe_wall_zone' : 'probe_wall_traction',
        value: tooth.normal.at(step, node),
        digits: 2,
        zone: tooth.zone.at(step, node),
        node,
      }));
  }

  nearestOf(points, place, describe) {
    let best = null;
    let least = PROBE_REACH;
    this.found.arch.teeth.forEach((tooth, k) => {
      const places = points(tooth);
      const node = nearest(places, place, least);
      if (node === null) return;
      least = Math.hypot(places[node][0] - place[0], places[node][1] - place[1]);
      best = { ...describe(tooth, node), tooth: this.found.teeth[k].number };
    });
    return best;
  }
}

// An outline that does not change was kept as rows of points.
function startPoints(sheet, array) {
  const found = [];
  for (let k = 0; k < array.shape[0]; k += 1) {
    found.push(sheet.px(array.at(k, 0), array.at(k, 1)));
  }
  return found;
}
