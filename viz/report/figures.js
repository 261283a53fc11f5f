// Figures of the run's folder, and chosen weeks side by side.

const FIGURE_ORDER = ['arch', 'movement', 'force', 'decay', 'turning', 'zones', 'slice'];
const FREE_BODY = 'free_body.png';
const MOST_STILLS = 6;

// Names of pictures in the order of the page; those it does not know come last.
function pictureNames() {
  const place = (name) => {
    const found = FIGURE_ORDER.indexOf(name.replace('.png', ''));
    return found < 0 ? FIGURE_ORDER.length : found;
  };
  const all = [...new Set(runs.flatMap((run) => Object.keys(run.pictures)))];
  return all.sort((a, b) => place(a) - place(b));
}

function pictureTitle(name) {
  const stem = name.replace('.png', '');
  const key = `figure_${stem}`;
  return key in STRINGS.en ? t(key) : t('figure_other', { name: stem.replaceAll('_', ' ') });
}

function plate(run, name) {
  const title = pictureTitle(name);
  return h('figure', { class: 'plate' }, h('figcaption', {}, named(run, title)),
    h('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': named(run, title) },
      h('img', {
        src: `data:image/png;base64,${run.pictures[name]}`, alt: t('figure_alt', { title }),
      })));
}

// The free body stands in the lesson of its run, if that has one.
function figureSection() {
  const here = (run, name) => name in run.pictures && !(name === FREE_BODY && lessonOf(run));
  const names = pictureNames().filter((name) => runs.some((run) => here(run, name)));
  return section('figures', t('figures'), h('p', { class: 'small' }, t('figures_note')),
    names.map((name) => h('div', { class: 'plates' },
      runs.filter((run) => here(run, name)).map((run) => plate(run, name)))));
}

// Where the lesson says something, or at the start, about the thirds and the end.
function chosenSteps(run) {
  if (lessonOf(run)?.caption?.length) return lessonSteps(run);
  const last = run.days.length - 1;
  const wanted = [0, 1 / 3, 2 / 3, 1].map((share) => share * run.days[last]);
  const keyed = keysOf(run, state.cases[run.index]).map((key) => key.day).filter((day) => day > 0);
  const middle = wanted.slice(1, 3).map((day) => {
    const near = keyed.filter((key) => Math.abs(key - day) < run.days[last] / 8);
    return near.length ? near[0] : day;
  });
  const found = [wanted[0], ...middle, wanted[3]].map((day) => lastBefore(run.days, day));
  return [...new Set(found)];
}

function lessonSteps(run) {
  const told = run.captions.map(([day]) => lastBefore(run.days, day));
  const all = [...new Set([...told, run.days.length - 1])];
  if (all.length <= MOST_STILLS) return all;
  return Array.from({ length: MOST_STILLS },
    (_, k) => all[Math.round((k * (all.length - 1)) / (MOST_STILLS - 1))]);
}

function sheetSection() {
  return section('sheet', t('sheet'), h('p', { class: 'small' }, t('sheet_note')), columns((run) => {
    const found = run.cases[state.cases[run.index]];
    const slice = found.slices[state.slices[run.index]];
    return h('div', { class: isMany(found) ? 'multiples many' : 'multiples' }, chosenSteps(run).map((step) => {
      const canvas = (kind, tall, title) => h('canvas', {
        class: `still ${kind}`, role: 'img', 'data-width': 300, 'data-height': tall,
        'data-step': step, 'aria-label': `${title}, ${t('week')} ${week(run.days[step])}`,
      });
      return h('figure', {}, h('figcaption', {}, `${t('week')} ${week(run.days[step])}`),
        slice ? canvas('slice', 420, t('slice_title', { tooth: slice.tooth, plane: word(slice.plane) }))
          : null, canvas('front', 220, t(SEEN[found.arch.seen])));
    }));
  }));
}

function drawSheet() {
  document.querySelectorAll('#sheet .run-column').forEach((column, k) => {
    const run = runs[k];
    const found = run.cases[state.cases[k]];
    const slice = found.slices[state.slices[k]];
    column.querySelectorAll('canvas').forEach((canvas) => {
      const view = canvas.classList.contains('slice') ? new SliceView(canvas, run, slice)
        : new ArchView(canvas, run, found, 'front');
      view.draw(run.days[Number(canvas.dataset.step)], 'zone', null);
    });
  });
}

function sheetTables() {
  return columns((run) => chosenSteps(run).map(
    (step) => weekTable(run, state.cases[run.index], step)));
}
