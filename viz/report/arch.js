// The teeth of a case, from the front and from above. All cases of a run have one scale.

const ARROW = 6; // mm, length of the largest force
const LEAST_APART = 110; // px of width for each tooth from which arrows have their numbers
const MANY = 8; // teeth
const LEAST_NAMED = 260; // px of width from which the sides are named

const STAYS = 'end of the run';
const PULL_WIDTH = 9; // px, a band that the wire lies on

function unionOf(reaches) {
  return {
    low: [0, 1].map((k) => Math.min(...reaches.map((reach) => reach.low[k]))),
    high: [0, 1].map((k) => Math.max(...reaches.map((reach) => reach.high[k]))),
  };
}

// Length of the arrow of a run's own largest force, mm.
function longestArrow(run) {
  return (ARROW * run.own.force_N) / run.scales.force_N;
}

// What teeth and arrows of all cases and days of a run reach in a view, mm, with a margin.
function runWindow(run, seen) {
  run.windows ??= {};
  if (!run.windows[seen]) {
    const names = seen === 'front' ? ['body', 'wall', 'start'] : ['above', 'above_start'];
    const reaches = run.cases.flatMap((one) => one.arch.teeth).flatMap((tooth) => [
      ...names.map((name) => tooth[name].reach()), arrowReach(run, tooth[`force_${seen}`])]);
    const { low, high } = unionOf(reaches);
    const margin = 1.5;
    run.windows[seen] = { low: low.map((v) => v - margin), high: high.map((v) => v + margin) };
  }
  return run.windows[seen];
}

function arrowReach(run, array) {
  const longest = longestArrow(run);
  return unionOf(Array.from({ length: array.shape[0] }, (_, step) => {
    const [x, y, dx, dy] = Array.from(array.row(step)).map((v) => v * array.step);
    const tip = [x + longest * dx, y + longest * dy];
    return { low: tip, high: tip };
  }));
}

// Elastics of a run that pull on a day.
function pullsAt(run, day) {
  return (run.summary.elastics ?? []).filter((pull) => 7 * pull.from_week <= day + 1e-9
    && (day < 7 * pull.to_week - 1e-9 || pull.ended_by === STAYS));
}

// Many teeth from the front need more room than from above.
function isMany(found) {
  return found.teeth.length > MANY;
}

// Beside: the canvas of the other view, where there is one.
class ArchView {
  constructor(canvas, run, found, seen, beside = null) {
    Object.assign(this, { canvas, run, found, seen });
    this.fields = ['zone', 'traction', 'displacement'];
    const [own, seenBeside] = [seen, seen === 'front' ? 'above' : 'front'].map(
      (s) => runWindow(run, s));
    // y of these drawings runs down the screen
    this.sheet = new Sheet(canvas, own.low, own.high, -1,
      beside && { ...seenBeside, canvas: beside });
    this.turned = this.found.arch.seen === 'side' ? 0 : 1; // plane of the first view
  }

  get longest() { return longestArrow(this.run); }

  step(day) { return lastBefore(this.run.days, day); }

  draw(day, field, probe) {
    const { sheet } = this;
    const step = this.step(day);
    sheet.fit();
    sheet.clear(COLOURS.paper);
    if (this.seen === 'front') this.drawFront(step, field);
    else this.drawAbove(step, field);
    const arrows = this.drawLoads(step);
    if (this.seen === 'front') this.drawCentres(step);
    this.drawNames(step);
    this.nameSides();
    // a whole upper arch from the biting side is open at the foot of the picture
    sheet.bar(5, { amid: this.seen === 'above' && this.run.upper && isMany(this.found) });
    for (const { tip, along, words } of arrows) sheet.beside(tip, along, words);
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
    for (const x of [0, sheet.width]) sheet.taken.push({ x, y: 14, half: 0.3 * sheet.width });
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
      const bracket = sheet.points(tooth.bracket, step);
      sheet.polygon(bracket, COLOURS.rule, COLOURS.metal);
      sheet.keepClear([...bracket, bracket[0]]);
    }
    this.drawPulls(step);
    this.drawWire(this.found.arch.wire_front, step);
  }

  // Elastics in place, from slot to slot.
  drawPulls(step) {
    const slots = new Map(this.found.arch.teeth.map(
      (tooth, k) => [this.found.teeth[k].number, this.arrow(tooth, step).tail]));
    for (const pull of pullsAt(this.run, this.run.days[step])) {
      const line = pull.teeth.map((number) => slots.get(number));
      this.sheet.line(line, COLOURS.moved, PULL_WIDTH);
      this.sheet.keepClear(line);
    }
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
    if (!array) return;
    const points = this.sheet.points(array, step);
    this.sheet.line(points, COLOURS.ink, 2.6);
    this.sheet.keepClear(points);
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
    this.drawPulls(step);
    this.drawWire(this.found.arch.wire_above, step);
  }

  // The force on a tooth as this picture shows it: ends in px, size in N.
  arrow(tooth, step) {
    const array = tooth[`force_${this.seen}`];
    const [x, y, dx, dy] = Array.from(array.row(step)).map((v) => v * array.step);
    return {
      tail: this.sheet.px(x, y),
      tip: this.sheet.px(x + this.longest * dx, y + this.longest * dy),
      newton: Math.hypot(dx, dy) * this.run.own.force_N,
    };
  }

  // Forces as arrows and moments as arcs; returns arrows that are to have their numbers.
  drawLoads(step) {
    const { sheet } = this;
    const { teeth } = this.found.arch;
    const named = sheet.width / teeth.length >= LEAST_APART;
    return teeth.flatMap((tooth) => {
      const { tail, tip, newton } = this.arrow(tooth, step);
      const along = sheet.arrow(tail, [tip[0] - tail[0], tip[1] - tail[1]]);
      const away = along ? Math.atan2(-along[1], -along[0]) : -0.5 * Math.PI;
      const share = tooth[`moment_${this.seen}`].at(step) / this.run.scales.moment_Nmm;
      sheet.arc(tail, away, Math.max(-1, Math.min(1, share)));
      return along && named ? [{ tip, along, words: `${num(newton)} N` }] : [];
    });
  }

  // Where the axis of each tooth stood still, of its whole movement so far.
  drawCentres(step) {
    this.found.arch.teeth.forEach((tooth, k) => {
      const depth = this.found.teeth[k].rotation_centre_mm.at(step, this.turned);
      if (depth === null) return;
      const [x, y, dx, dy] = Array.from(tooth.axis.row(step)).map((v) => v * tooth.axis.step);
      this.sheet.centre(this.sheet.px(x + depth * dx, y + depth * dy));
    });
  }

  drawNames(step) {
    const { sheet } = this;
    this.found.arch.teeth.forEach((tooth, k) => {
      const outline = sheet.points(this.seen === 'front' ? tooth.root : tooth.above, step);
      const mean = [0, 1].map(
        (c) => outline.reduce((sum, point) => sum + point[c], 0) / outline.length);
      const around = [[0, 0], [0, LINE], [0, -LINE], [LINE, 0], [-LINE, 0]]
        .map((step_px) => mean.map((value, c) => value + step_px[c]));
      const place = sheet.clearest(around, 10) ?? mean;
      sheet.text(String(this.found.teeth[k].number), place, { align: 'center', bold: true });
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
