// Week by week: slider, choices, key times, pictures with their probes, legend.

function choice(label, id, options, chosen, onchange) {
  return h('label', { class: 'choice', for: id }, h('span', {}, label), h('select', { id, onchange },
    options.map(([value, text, off]) => h('option',
      { value, selected: value === chosen, disabled: off }, text))));
}

function controls() {
  return h('div', { class: 'controls' }, tag(),
    h('button', {
      id: 'play', type: 'button', onclick: togglePlay, disabled: quiet.matches,
      'aria-describedby': quiet.matches ? 'still' : null,
    }, t('play')),
    h('label', { class: 'slider', for: 'day' }, h('span', { id: 'now' }, ''),
      h('input', {
        id: 'day', type: 'range', min: 0, max: days.length - 1, step: 1, value: state.step,
        oninput: (event) => show(Number(event.target.value)),
      }), h('span', { id: 'ticks', 'aria-hidden': 'true' })),
    choice(t('field'), 'field', fieldOptions(), state.field, (event) => {
      state.field = event.target.value;
      refresh();
    }));
}

// What is never to be forgotten while pictures move.
function tag() {
  const invented = runs.some((run) => run.summary.scenario.invented);
  return h('p', { class: 'tag' }, h('span', {}, t('tag')),
    invented ? h('span', {}, t('tag_invented')) : null);
}

// Density needs a slice; without any it comes last and says so.
function fieldOptions() {
  const sliced = runs.some((run) => run.cases.some((found) => found.slices.length));
  const all = FIELDS.map((field) => [field, t(`field_${field}`), false]);
  if (sliced) return all;
  const [density, ...others] = all;
  return [...others, [density[0], t('field_needs_slice', { field: density[1] }), true]];
}

function chooseCase(run, index) {
  state.cases[run.index] = index;
  state.slices[run.index] = 0;
  build(`case-${run.index}`);
}

function caseChoice(run) {
  if (run.cases.length < 2) return null;
  return choice(t('case'), `case-${run.index}`,
    run.cases.map((found, k) => [String(k), found.name]), String(state.cases[run.index]),
    (event) => chooseCase(run, Number(event.target.value)));
}

function sliceChoice(run) {
  const { slices } = run.cases[state.cases[run.index]];
  if (slices.length < 2) return null;
  return choice(t('slice'), `slice-${run.index}`,
    slices.map((slice, k) => [String(k), t('tooth', { tooth: slice.tooth })]),
    String(state.slices[run.index]), (event) => {
      state.slices[run.index] = Number(event.target.value);
      build(`slice-${run.index}`);
    });
}

function viewBox(run, id, title, kind, make) {
  const canvas = h('canvas', {
    id, class: kind, tabindex: 0, role: 'application', 'aria-describedby': `${id}-read`,
    'aria-label': `${named(run, title)}. ${t('probe_keys')}`,
  });
  const read = h('p', { id: `${id}-read`, class: 'read' }, t('probe_nothing'));
  const entry = { id, canvas, read, run, make, view: null, kind };
  views.push(entry);
  canvas.addEventListener('pointermove', (event) => {
    const box = canvas.getBoundingClientRect();
    probeAt(entry, [event.clientX - box.left, event.clientY - box.top], false);
  });
  canvas.addEventListener('pointerleave', () => probeAt(entry, null, false));
  canvas.addEventListener('keydown', (event) => probeKey(entry, event));
  return h('figure', { class: `view ${kind}-view` }, h('figcaption', {}, title), canvas, read);
}

function weekSection() {
  views = [];
  const content = columns((run) => {
    const found = run.cases[state.cases[run.index]];
    const slice = found.slices[state.slices[run.index]];
    const boxes = [];
    if (slice) {
      const title = t('slice_title', { tooth: slice.tooth, plane: word(slice.plane) });
      boxes.push(viewBox(run, `slice-view-${run.index}`, title, 'slice',
        (canvas) => new SliceView(canvas, run, slice)));
    }
    const [front, above] = ['front', 'above'].map((seen) => `${seen}-${run.index}`);
    const arch = (seen, beside) => (canvas) => new ArchView(canvas, run, found, seen,
      document.getElementById(beside));
    boxes.push(h('div', { class: isMany(found) ? 'arch-views many' : 'arch-views' },
      viewBox(run, front, t(SEEN[found.arch.seen]), 'front', arch('front', above)),
      viewBox(run, above, t(run.upper ? 'above_upper' : 'above_lower'), 'above',
        arch('above', front))));
    return [
      h('p', { class: 'choices' }, caseChoice(run), sliceChoice(run)),
      h('div', { class: slice ? 'views sliced' : 'views' }, boxes),
      h('p', { id: `at-once-${run.index}`, class: 'small at-once' }, ''),
      h('p', { id: `caption-${run.index}`, class: 'said', 'aria-live': 'polite' }, ''),
      h('div', { id: `week-table-${run.index}` }),
      slice ? h('div', { id: `slice-table-${run.index}` }) : null,
      slice ? h('details', { id: `wall-${run.index}`, ontoggle: () => fillTables() },
        h('summary', {}, t('wall_details')), h('div', {})) : null,
    ];
  });
  return section('weeks', t('weeks'),
    quiet.matches ? h('p', { id: 'still' }, t('still_note')) : null,
    controls(), keyTimes(), h('div', { id: 'legend' }), content,
    h('p', { class: 'small' }, t('drawing_note')));
}

function keyTimes() {
  const buttons = runs.flatMap((run) => keysOf(run, state.cases[run.index]).map((key) => h('li', {},
    h('button', { type: 'button', class: 'key', onclick: () => jump(key.day) },
      h('b', {}, `${runs.length > 1 ? `${'AB'[run.index]} · ` : ''}${t('week')} ${week(key.day)}`),
      ` ${keyWords(run, key)}`))));
  if (!buttons.length) return null;
  return h('div', {}, h('p', { class: 'label', id: 'keys-label' }, t('key_times')),
    h('ul', { class: 'keys', 'aria-labelledby': 'keys-label' }, buttons));
}

function sample(kind, text) {
  return h('span', { class: 'sample' }, h('span', { class: `swatch ${kind}`, 'aria-hidden': 'true' }),
    text);
}

function legend() {
  const scales = runs.map((run) => run.scales);
  const largest = (name) => Math.max(...scales.map((scale) => scale[name]));
  const sliced = runs.some((run) => run.cases[state.cases[run.index]].slices.length);
  const limit = [...new Set(runs.map((run) => num(run.neutral_below_kPa, 2)))].join(' / ');
  const found = {
    density: [sample('bone-new', t('legend_new')), sample('bone-full', t('legend_full'))],
    zone: [sample('compression', t('legend_compression', { limit })),
      sample('tension', t('legend_tension', { limit })), sample('neutral', t('legend_neutral'))],
    traction: [sample('traction', t(sliced ? 'legend_traction_slice' : 'legend_traction', {
      wall: num(largest('wall_traction_kPa'), 1), slice: num(largest('slice_traction_kPa'), 1),
    }))],
    displacement: [sample('moved', t(sliced ? 'legend_moved_slice' : 'legend_moved', {
      moved: num(largest('moved_mm')), displaced: num(largest('displaced_mm'), 3),
    }))],
  }[state.field];
  if (sliced && state.field !== 'displacement') {
    found.push(sample('resorbed', t('legend_resorbed')), sample('laid', t('legend_laid_down')),
      sample('open', t('legend_open')));
  }
  found.push(sample('start', t('legend_start')),
    sample('arrow', t('legend_force', { force: num(largest('force_N')) })),
    sample('arc', t('legend_moment', { moment: num(largest('moment_Nmm'), 1) })),
    sample('centre', t('legend_centre')));
  if (runs.some((run) => run.summary.elastics?.length)) found.push(sample('band', t('legend_pull')));
  return found;
}
