// Elements of the page, and its tables. Texts become text nodes, never markup.

function h(name, settings = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(settings)) {
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, '');
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(key, value);
    }
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}

function items(texts) {
  return h('ul', {}, texts.map((text) => h('li', {}, text)));
}

// A table in a box that can be scrolled by keyboard; the first column names the row.
function table(caption, columns, rows, { numeric = true } = {}) {
  const head = h('tr', {}, columns.map((column) => h('th', { scope: 'col' }, column)));
  const body = rows.map((row) => h('tr', {}, row.map((cell, k) => (k === 0
    ? h('th', { scope: 'row' }, cell)
    : h('td', { class: numeric ? 'number' : null }, cell)))));
  return h('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': caption },
    h('table', {}, h('caption', {}, caption), h('thead', {}, head), h('tbody', {}, body)));
}

function weekTable(run, index, step) {
  const rows = run.cases[index].teeth.map((tooth) => {
    const band = [0, 1, 2].map((k) => tooth.crown_band_mm.at(step, k));
    const zones = [0, 1, 2].map((k) => num(tooth.zone_area_mm2.at(step, k), 1));
    return [
      String(tooth.number),
      `${num(band[1])} (${bandText(band)})`,
      `${num(tooth.force_N.at(step))} (${num(tooth.force_N.at(step) / GRAM_FORCE, 0)})`,
      [0, 1, 2].map((k) => num(tooth.moments_Nmm.at(step, k), 1)).join(' / '),
      [0, 1].map((k) => num(tooth.moment_to_force_mm.at(step, k), 1)).join(' / '),
      [0, 1].map((k) => centreText(tooth.rotation_centre_mm.at(step, k))).join(' / '),
      num(tooth.peak_pressure_kPa.at(step)),
      num(tooth.above_line_percent.at(step), 0),
      zones.join(' / '),
    ];
  });
  const caption = t('week_table', { week: week(run.days[step]), day: short(run.days[step]) });
  const columns = t('week_columns', { line: num(run.pressure_line_kPa, 1) }).split('|');
  return table(named(run, caption), columns, rows);
}

function sliceTable(run, slice, day) {
  const state = slice.states[lastBefore(slice.days, day)];
  const plates = slice.sides.map((side, k) => `${word(side)} ${num(state.plate_mm[k])}`);
  return table(named(run, t('slice_table', { tooth: slice.tooth, week: week(day) })),
    t('slice_columns').split('|'), [[String(slice.tooth), num(state.force_N),
      plates.join(' / '), num(state.resorbed_mm2), num(state.laid_down_mm2)]]);
}

// The wall as a table: what the ribbon shows, at about every second millimetre.
function wallTable(run, slice, day) {
  const frame = lastBefore(slice.days, day);
  const count = slice.normal.shape[1];
  const every = Math.max(1, Math.round(count / 16));
  const zones = { '-1': 'compression', 0: 'neutral', 1: 'tension' };
  const rows = [];
  for (let k = 0; k < count; k += every) {
    const x = slice.wall.at(frame, 2 * k);
    rows.push([
      `${word(x >= 0 ? slice.sides[0] : slice.sides[1])} ${num(-slice.wall.at(frame, 2 * k + 1), 1)}`,
      num(slice.normal.at(frame, k)),
      word(zones[slice.zone.at(frame, Math.min(k, count - 2))]),
    ]);
  }
  return table(named(run, t('wall_table', { tooth: slice.tooth, week: week(day) })),
    t('wall_columns').split('|'), rows);
}

function inputTable(run) {
  const names = { file: 'origin_file', library: 'origin_library', default: 'origin_default' };
  const rows = run.inputs.map((row) => [row.key, row.value, t(names[row.origin]), row.source,
    word(row.status)]);
  return table(named(run, t('inputs_table')), t('inputs_columns').split('|'), rows, { numeric: false });
}

// What names a row of a table over all cases and teeth, and what heads those names.
function rowName(run, name, number) {
  return run.cases.length > 1 ? `${name}, ${number}` : String(number);
}

function headed(run, columns) {
  return run.cases.length > 1 ? [t('case_tooth'), ...columns.slice(1)] : columns;
}

function endTable(run) {
  const rows = run.cases.flatMap((found, index) => found.teeth.map((tooth) => {
    const of = caseSummary(run, index)[String(tooth.number)];
    const band = Object.values(of.crown_movement_band_mm);
    return [
      rowName(run, found.name, tooth.number),
      `${num(of.crown_movement_band_mm.p50)} (${bandText(band)})`,
      directions(['extrusion', 'labial', 'mesial'].map((k) => of.crown_movement_mm[k]), tooth.sides),
      movementWords(of.movement_type, tooth),
      of.centre_of_rotation_mm === null && of.movement_type.includes('translation') ? t('far')
        : centreText(of.centre_of_rotation_mm),
      num(of.peak_pressure_kPa, 1),
    ];
  }));
  return table(named(run, t('end_table', { time: span(7 * run.summary.weeks) })),
    headed(run, t('end_columns').split('|')), rows);
}
