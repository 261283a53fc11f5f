// One tooth opened as a plane: bone, what changed, tooth, wall, displacement.

const RESORBED = 1;
const LAID_DOWN = 2;
const PROBE_REACH = 24; // px

function boneImage(slice, frame, marked) {
  const [, columns, rows] = slice.density.shape;
  const density = slice.density.row(frame);
  const share = slice.share.row(frame);
  const changed = slice.changed.row(frame);
  const [soft, fresh, full] = [COLOURS.soft, COLOURS.bone_new, COLOURS.bone_full].map(rgb);
  const tints = { 1: rgb(COLOURS.compression), 2: rgb(COLOURS.tension) };
  const image = new ImageData(columns, rows);
  for (let ix = 0; ix < columns; ix += 1) {
    for (let iz = 0; iz < rows; iz += 1) {
      const cell = ix * rows + iz;
      const down = slice.up > 0 ? rows - 1 - iz : iz;
      const at = 4 * (down * columns + ix);
      const dense = density[cell] * slice.density.step;
      const some = share[cell] * slice.share.step;
      const change = marked ? changed[cell] : 0;
      const full_tint = change === RESORBED ? (ix + iz) % 5 === 0
        : change === LAID_DOWN && ix % 4 === 0 && iz % 4 === 0;
      const tint = change ? (full_tint ? 1 : 0.38) : 0;
      for (let k = 0; k < 3; k += 1) {
        const bone = fresh[k] + dense * (full[k] - fresh[k]);
        const plain = soft[k] + some * (bone - soft[k]);
        image.data[at + k] = tint ? plain + tint * (tints[change][k] - plain) : plain;
      }
      image.data[at + 3] = 255;
    }
  }
  const canvas = document.createElement('canvas');
  canvas.width = columns;
  canvas.height = rows;
  canvas.getContext('2d').putImageData(image, 0, 0);
  return canvas;
}

class SliceView {
  constructor(canvas, run, slice) {
    Object.assign(this, { canvas, run, slice, pictures: new Map() });
    this.fields = ['density', 'zone', 'traction', 'displacement'];
    const [lowX, lowZ, highX, highZ] = slice.window;
    this.sheet = new Sheet(canvas, [lowX, lowZ], [highX, highZ], slice.up);
  }

  frame(day) { return lastBefore(this.slice.days, day); }

  bone(frame, marked) {
    const key = `${frame}/${marked}`;
    if (!this.pictures.has(key)) {
      if (this.pictures.size > 60) this.pictures.clear();
      this.pictures.set(key, boneImage(this.slice, frame, marked));
    }
    return this.pictures.get(key);
  }

  draw(day, field, probe) {
    const { sheet, slice } = this;
    const frame = this.frame(day);
    const state = slice.states[frame];
    sheet.fit();
    sheet.clear(COLOURS.soft);
    this.drawBone(frame, field !== 'displacement');
    if (field === 'displacement') this.drawDisplacement(frame);
    else this.drawTooth(frame);
    sheet.line(sheet.points(slice.root, 0), COLOURS.ink, 1.3, [5, 4]);
    if (field === 'zone' || field === 'traction') this.drawRibbon(frame, field);
    for (const line of state.open) {
      sheet.line(line.map(([x, z]) => sheet.px(x, z)), COLOURS.ink, 5);
    }
    if (state.arrow) {
      const tail = sheet.px(...state.slot);
      const tip = sheet.px(state.slot[0] + state.arrow[0], state.slot[1] + state.arrow[1]);
      sheet.arrow(tail, [tip[0] - tail[0], tip[1] - tail[1]], `${num(state.force_N)} N`);
    }
    const [right, left] = slice.sides;
    sheet.text(word(left), [10, 16], { bold: true, back: COLOURS.soft });
    sheet.text(word(right), [sheet.width - 10, 16],
      { bold: true, align: 'right', back: COLOURS.soft });
    sheet.bar(2);
    if (probe) sheet.crosshair(probe);
  }

  drawBone(frame, marked) {
    const { sheet, slice } = this;
    const [, columns, rows] = slice.density.shape;
    const { origin, spacing } = slice.raster;
    const far = [origin[0] + columns * spacing, origin[1] + rows * spacing];
    const [x0, y0] = sheet.px(...origin);
    const [x1, y1] = sheet.px(...far);
    sheet.context.imageSmoothingEnabled = false;
    sheet.context.drawImage(this.bone(frame, marked), Math.min(x0, x1), Math.min(y0, y1),
      Math.abs(x1 - x0), Math.abs(y1 - y0));
  }

  drawTooth(frame) {
    const { sheet, slice } = this;
    sheet.polygon(sheet.points(slice.ligament, frame), COLOURS.ligament, COLOURS.tooth_edge);
    if (slice.crown) {
      sheet.polygon(sheet.points(slice.crown, frame), COLOURS.tooth, COLOURS.tooth_edge);
    }
    sheet.polygon(sheet.points(slice.root, frame), COLOURS.root, COLOURS.tooth_edge);
  }

  drawRibbon(frame, field) {
    const { sheet, slice } = this;
    const normal = slice.normal.row(frame);
    const zones = Array.from(slice.zone.row(frame));
    const largest = this.run.scales.slice_traction_kPa;
    const colours = zones.map((zone, k) => (field === 'zone' ? zoneColour(zone)
      : tractionColour(0.5 * (normal[k] + normal[k + 1]) * slice.normal.step, largest)));
    sheet.ribbon(sheet.points(slice.ribbon, frame), colours, zones, 7);
  }

  drawDisplacement(frame) {
    const { sheet, slice } = this;
    const corners = slice.cells.units;
    const moved = slice.displaced.row(frame);
    const points = sheet.points(slice.nodes, frame);
    const largest = this.run.scales.displaced_mm;
    for (let k = 0; k < slice.cells.shape[0]; k += 1) {
      const four = [0, 1, 2, 3].map((c) => corners[4 * k + c]);
      const mean = four.reduce((sum, node) => sum + moved[node], 0) * 0.25 * slice.displaced.step;
      const colour = mixed(COLOURS.paper, COLOURS.moved, mean / largest);
      sheet.polygon(four.map((node) => points[node]), colour, colour, 0.6);
    }
    for (const name of ['ligament', 'crown', 'root']) {
      if (slice[name]) {
        sheet.polygon(sheet.points(slice[name], frame), null, COLOURS.tooth_edge, 1.4);
      }
    }
  }

  // What lies under a place of the canvas, px: key of a sentence and its values.
  probe(day, field, place) {
    const frame = this.frame(day);
    if (field === 'density') return this.probeDensity(frame, place);
    if (field === 'displacement') return this.probeDisplacement(frame, place);
    return this.probeWall(frame, field, place);
  }

  probeDensity(frame, place) {
    const { sheet, slice } = this;
    const [, columns, rows] = slice.density.shape;
    const at = sheet.mm(...place);
    const [ix, iz] = [0, 1].map(
      (k) => Math.floor((at[k] - slice.raster.origin[k]) / slice.raster.spacing));
    if (ix < 0 || iz < 0 || ix >= columns || iz >= rows) return null;
    const cell = ix * rows + iz;
    const common = { x: at[0], depth: -at[1], cell: [ix, iz] };
    if (slice.covered.at(frame, cell)) return { key: 'probe_tooth', ...common };
    const changed = slice.changed.at(frame, cell);
    const density = slice.density.at(frame, cell);
    if (changed === RESORBED && density === 0) return { key: 'probe_resorbed', ...common };
    const key = changed === LAID_DOWN ? 'probe_laid_down' : 'probe_density';
    return { key, value: density, digits: 2, ...common };
  }

  probeDisplacement(frame, place) {
    const { sheet, slice } = this;
    const node = nearest(sheet.points(slice.nodes, frame), place, PROBE_REACH);
    if (node === null) return null;
    return {
      key: 'probe_displacement',
      value: slice.displaced.at(frame, node),
      digits: 4,
      across: slice.displacement.at(frame, 2 * node),
      along: slice.displacement.at(frame, 2 * node + 1),
      x: slice.nodes.at(frame, 2 * node),
      depth: -slice.nodes.at(frame, 2 * node + 1),
      node,
    };
  }

  probeWall(frame, field, place) {
    const { sheet, slice } = this;
    const walls = [sheet.points(slice.ribbon, frame), sheet.points(slice.wall, frame)];
    const node = nearest(walls[0], place, PROBE_REACH) ?? nearest(walls[1], place, PROBE_REACH);
    if (node === null) return null;
    const last = slice.zone.shape[1] - 1;
    return {
      key: field === 'zone' ? 'probe_zone' : 'probe_traction',
      value: slice.normal.at(frame, node),
      digits: 2,
      zone: slice.zone.at(frame, Math.min(node, last)),
      x: slice.wall.at(frame, 2 * node),
      depth: -slice.wall.at(frame, 2 * node + 1),
      node,
    };
  }
}
