// Findings about roots: one group of rows for each quantity, teeth that show the same together.

const MOST_FINDINGS = 60; // shown without unfolding

// Findings of every case and tooth, in the order of the summary, by quantity, threshold and source.
function rootGroups(run) {
  const groups = new Map();
  run.cases.forEach((one, index) => one.teeth.forEach((tooth) => {
    const preview = caseSummary(run, index)[String(tooth.number)].root_preview ?? {};
    for (const row of Object.values(preview.quantities ?? {})) {
      const key = JSON.stringify([row.name, row.threshold, row.source, row.status]);
      if (!groups.has(key)) groups.set(key, { row, found: [] });
      groups.get(key).found.push({ name: one.name, number: tooth.number, row });
    }
  }));
  return [...groups.values()];
}

function rootUnit(row) {
  return row.unit && row.unit !== '1' ? ` ${row.unit}` : '';
}

// A centre of rotation so far off that its place says nothing, and its band less.
function isFar(row, value) {
  return row.name.startsWith('centre of rotation') && value !== null && Math.abs(value) > FAR;
}

function rootMedian(row) {
  if (isFar(row, row.p50)) return t('far');
  const value = row.p50 === null ? t('none') : `${short(row.p50)}${rootUnit(row)}`;
  const words = row.words ? `: ${row.words.p50.split(' with ').map(word).join(t('with'))}` : '';
  return value + words + (row.extrapolated ? ` (${t('extrapolated')})` : '');
}

function rootBand(row) {
  const ends = [row.p10, row.p90].filter((value) => value !== null).sort((a, b) => a - b);
  if (!ends.length || [row.p50, ...ends].some((value) => isFar(row, value))) return t('none');
  const texts = [...new Set(ends.map(short))];
  return texts.length < ends.length ? t('band_same') : texts.join(` ${t('to')} `);
}

function rootHead({ row }) {
  const own = row.threshold_unit ? ` ${row.threshold_unit}` : rootUnit(row);
  const limit = row.threshold === null ? t('root_no_threshold') : t('root_threshold',
    { limit: `${row.threshold.map(short).join(` ${t('to')} `)}${own}` });
  const name = translated('roots', row.name);
  return h('tr', { class: 'group' }, h('th', { scope: 'rowgroup', colspan: 3 },
    h('span', { lang: name === null ? 'en' : null }, capital(name ?? row.name)),
    h('span', { class: 'source' }, ` ${limit} ${t('root_source',
      { source: row.source, status: word(row.status) })}`)));
}

// Teeth and cases of a group with the same text in both columns share a row.
function rootRows(run, { found }) {
  const rows = new Map();
  for (const { name, number, row } of found) {
    const cells = [rootMedian(row), rootBand(row)];
    const key = JSON.stringify(cells);
    if (!rows.has(key)) rows.set(key, { cells, of: [] });
    rows.get(key).of.push(rowName(run, name, number));
  }
  return [...rows.values()].map(({ cells, of }) => {
    const who = rows.size === 1 && of.length > 1 ? t('root_all') : of.join('; ');
    return h('tr', {}, h('th', { scope: 'row' }, who), cells.map((cell) => h('td', {}, cell)));
  });
}

// Long tables unfold.
function rootTable(run) {
  const groups = rootGroups(run);
  if (!groups.length) return null;
  const count = groups.reduce((sum, { found }) => sum + found.length, 0);
  const found = groupedTable(run, named(run, t('root_table')), groups.map(
    (group) => h('tbody', {}, rootHead(group), rootRows(run, group))));
  return count <= MOST_FINDINGS ? found
    : h('details', {}, h('summary', {}, t('root_show', { count })), found);
}

function groupedTable(run, caption, bodies) {
  const head = headed(run, t('root_columns').split('|'))
    .map((text) => h('th', { scope: 'col' }, text));
  return h('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': caption },
    h('table', { class: 'grouped' }, h('caption', {}, caption), h('thead', {}, h('tr', {}, head)),
      bodies));
}
