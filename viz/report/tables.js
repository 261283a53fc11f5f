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
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
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
      `${num(band[1])} (${num(Math.min(...band))} ${t('to')} ${num(Math.max(...band))})`,
      `${num(tooth.force_N.at(step))} (${num(tooth.force_N.at(step) / GRAM_FORCE, 0)})`,
      [0, 1, 2].map((k) => num(tooth.moments_Nmm.at(step, k), 1)).join(' / '),
      [0, 1].map((k) => num(tooth.moment_to_force_mm.at(step, k), 1)).join(' / '),
      [0, 1].map((k) => num(tooth.rotation_centre_mm.at(step, k), 1)).join(' / '),
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

// Findings about roots: of every case and tooth, in the order of the summary.
function rootRows(run) {
  return run.cases.flatMap((found, index) => found.teeth.flatMap((tooth) => {
    const name = run.cases.length > 1 ? `${found.name}, ${tooth.number}` : String(tooth.number);
    const preview = caseSummary(run, index)[String(tooth.number)].root_preview ?? {};
    return Object.values(preview.quantities ?? {}).map((row) => ({ of: name, ...row }));
  }));
}

function rootBand(row) {
  const ends = [row.p10, row.p90].filter((value) => value !== null);
  return ends.length ? ends.map(short).join(` ${t('to')} `) : t('none');
}

function rootTable(run) {
  const rows = rootRows(run);
  if (!rows.length) return null;
  const cells = rows.map((row) => {
    const unit = row.unit && row.unit !== '1' ? ` ${row.unit}` : '';
    const own = row.threshold_unit ? ` ${row.threshold_unit}` : unit;
    const value = row.p50 === null ? t('none') : `${short(row.p50)}${unit}`;
    return [
      row.of,
      row.name,
      row.words ? `${value}: ${word(row.words.p50)}` : value,
      rootBand(row),
      row.threshold === null ? t('none') : `${row.threshold.map(short).join(` ${t('to')} `)}${own}`,
      row.source,
      word(row.status) + (row.extrapolated ? `, ${t('extrapolated')}` : ''),
    ];
  });
  return table(named(run, t('root_table')), t('root_columns').split('|'), cells, { numeric: false });
}

function endTable(run) {
  const rows = run.cases.flatMap((found, index) => found.teeth.map((tooth) => {
    const of = caseSummary(run, index)[String(tooth.number)];
    const band = Object.values(of.crown_movement_band_mm);
    return [
      run.cases.length > 1 ? `${found.name}, ${tooth.number}` : String(tooth.number),
      `${num(of.crown_movement_band_mm.p50)} (${num(Math.min(...band))} ${t('to')} ${
        num(Math.max(...band))})`,
      movementWords(of.movement_type, tooth),
      num(of.centre_of_rotation_mm, 1),
      num(of.peak_pressure_kPa, 1),
    ];
  }));
  return table(named(run, t('end_table', { weeks: week(7 * run.summary.weeks) })),
    t('end_columns').split('|'), rows);
}
