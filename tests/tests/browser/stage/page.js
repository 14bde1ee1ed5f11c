// What a person finds on a page by the words that stand there. Every call of the stage puts this
// before it, so the page itself holds nothing of it, and finds it where its own scripts are off.

const PRESSED =
  'a[href], button, summary, input[type=submit], input[type=button], input[type=reset], ' +
  'input[type=image], input[type=checkbox], input[type=radio], [role=button], [role=link], ' +
  '[role=tab], [role=menuitem], [role=switch], [role=checkbox], [role=radio], [role=option]';
const FILLED =
  'input:not([type=hidden], [type=submit], [type=button], [type=reset], [type=image]), select, ' +
  'textarea, [contenteditable=true], [role=textbox], [role=combobox], [role=spinbutton]';
const TICKED = 'input[type=checkbox], input[type=radio]';

const words = (text) => (text ?? '').replace(/\s+/g, ' ').trim();

// ---- what is there

function isShown(element) {
  const box = element.getBoundingClientRect();
  const drawn = element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  return drawn && box.width > 0 && box.height > 0;
}

// Whether somebody can get at it: it is not behind a dialog, nor set aside.
function isReached(element) {
  const dialog = [...document.querySelectorAll('dialog:modal')].pop();
  return !element.closest('[inert], [aria-hidden=true]') && (!dialog || dialog.contains(element));
}

const isOff = (element) => element.matches(':disabled, [aria-disabled=true]');

// Where a finger goes: to a box to tick itself, or to its label where the box is not drawn.
function handle(element) {
  const seen = element.getBoundingClientRect();
  const drawn = isShown(element) && seen.width > 2 && seen.height > 2;
  if (drawn || !element.matches(TICKED)) return element;
  return [...(element.labels ?? [])].find(isShown) ?? element;
}

// ---- what it is called

function spoken(node) {
  if (node.nodeType === Node.TEXT_NODE) return node.data;
  if (node.nodeType !== Node.ELEMENT_NODE) return '';
  if (node.matches('input, select, textarea, script, style, [aria-hidden=true]')) return '';
  const style = getComputedStyle(node);
  if (style.display === 'none' || style.visibility === 'hidden') return '';
  if (node.hasAttribute('aria-label')) return node.getAttribute('aria-label');
  if (node.matches('img')) return node.alt;
  const inside = [...node.childNodes].map(spoken).join('');
  return style.display.startsWith('inline') ? inside : ` ${inside} `;
}

const labelled = (element) =>
  (element.getAttribute('aria-labelledby') ?? '')
    .split(/\s+/)
    .map((id) => id && document.getElementById(id))
    .filter(Boolean)
    .map(spoken)
    .join(' ');

function named(element) {
  const own = element.matches('input, select, textarea') ? '' : spoken(element);
  const button = element.matches('input[type=submit], input[type=button], input[type=reset]');
  const names = [
    labelled(element),
    element.getAttribute('aria-label'),
    [...(element.labels ?? [])].map(spoken).join(' '),
    button ? element.value || element.type : '',
    element.getAttribute('alt'),
    own,
    element.title,
    element.getAttribute('placeholder'),
  ];
  return names.map(words).find((name) => name !== '') ?? '';
}

// ---- finding it

// How far one has to step out of an element to have these words beside it; null: they are nowhere.
function stepsTo(element, near) {
  let steps = 0;
  for (let around = element; around; around = around.parentElement, steps += 1) {
    if (words(around.innerText).includes(near) || named(around) === near) return steps;
  }
  return null;
}

function closest(elements, near) {
  const found = elements.map((element) => [element, stepsTo(element, near)]);
  const least = Math.min(...found.map(([, steps]) => steps ?? Infinity));
  return found.filter(([, steps]) => steps !== null && steps === least).map(([element]) => element);
}

// The one of these that has a name: the whole name before a part of it. Links to one place are one.
function oneOf(elements, name, near) {
  const whole = elements.filter((element) => named(element) === name);
  const part = elements.filter((element) => named(element).includes(name));
  let found = whole.length > 0 ? whole : part;
  if (near !== null) found = closest(found, near);
  const places = new Set(found.map((element) => element.href ?? element));
  const element = places.size === 1 ? handle(found[0]) : null;
  element?.scrollIntoView({ block: 'center', inline: 'nearest', behavior: 'instant' });
  return {
    element,
    several: found.length > 1 ? found.map(named) : [],
    there: [...new Set(elements.map(named))],
  };
}

// Nobody presses or fills in anything before the page has loaded, with its style and its script:
// until then a form is sent without what the script does, and a field may yet be moved.
const isLoaded = () => document.readyState === 'complete';

const there = (kinds) =>
  [...document.querySelectorAll(isLoaded() ? kinds : 'not-yet')].filter(
    (element) => isShown(handle(element)) && isReached(element) && !isOff(element),
  );

const findPressed = (name, near) => oneOf(there(PRESSED), name, near);
const findFilled = (label, near) => oneOf(there(FILLED), label, near);

// A box to tick, in a group that is called something.
function findTicked(group, option) {
  const groups = [...document.querySelectorAll('fieldset, [role=group], [role=radiogroup]')];
  const called = (element) => words(spoken(element.querySelector('legend') ?? element));
  const own = groups.filter((element) => [named(element), called(element)].includes(group));
  const boxes = there(TICKED).filter((box) => own.some((element) => element.contains(box)));
  return oneOf(boxes, option, null);
}

// ---- what it holds, and what stands on the page

function shownText() {
  const dialog = [...document.querySelectorAll('dialog:modal')].pop();
  return words((dialog ?? document.body)?.innerText);
}

function heldBy(element) {
  if (element.matches(TICKED)) return element.checked ? 'yes' : 'no';
  if (element.matches('select')) {
    return [...element.selectedOptions].map((option) => words(option.text)).join(', ');
  }
  return element.value ?? words(element.innerText);
}

// A field whose text depends on the browser's language is set as its page would be told of it.
function setPlainly(element, value) {
  const prototype = Object.getPrototypeOf(element);
  Object.getOwnPropertyDescriptor(prototype, 'value').set.call(element, value);
  element.dispatchEvent(new Event('input', { bubbles: true }));
  element.dispatchEvent(new Event('change', { bubbles: true }));
  return element.value;
}

function kindOf(element) {
  return element.matches('input') ? element.type : element.localName;
}

// Tabs after which the keyboard has been everywhere, with some to spare: days have parts.
function mostTabs() {
  const all = document.querySelectorAll(`${PRESSED}, ${FILLED}, [tabindex]`).length;
  const parted = 'input[type=date], input[type=time], input[type=month], input[type=week], ' +
    'input[type=datetime-local]';
  return 10 + all + 7 * document.querySelectorAll(parted).length;
}

const focused = () => (document.activeElement ? named(document.activeElement) : '');

// ---- where the keyboard comes

// Everything that it has to come to, in the order of the page: of radio buttons that belong
// together, one.
function reachable() {
  const groups = new Set();
  return there(`${PRESSED}, ${FILLED}`).filter((element) => {
    if (!element.matches('input[type=radio]')) return element.tabIndex >= 0;
    const known = groups.has(element.name);
    groups.add(element.name);
    return !known;
  });
}

// Why what the keyboard is at cannot be seen to be so.
function unseen(element) {
  const drawn = (one) => {
    const style = getComputedStyle(one);
    const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 1;
    return ring || style.boxShadow !== 'none';
  };
  const own = [element, ...(element.labels ?? [])];
  // Within a field for a day the browser draws a ring of its own around the part that it is at.
  const isPart = element.matches('input[type=date]:not(:focus-visible)');
  if (!isPart && !own.some(drawn)) return 'nothing is drawn around it';
  const box = handle(element).getBoundingClientRect();
  const parts = [[0.5, 0.5], [0.1, 0.2], [0.9, 0.2], [0.1, 0.8], [0.9, 0.8]];
  const open = parts.some(([right, down]) => {
    const [x, y] = [box.left + right * box.width, box.top + down * box.height];
    const top = document.elementFromPoint(x, y);
    return top && own.some((one) => one.contains(top) || top.contains(one));
  });
  return open ? '' : 'something stands before it';
}

// Where the keyboard is among what it has to come to; null where it is nowhere on the page.
function keyboardAt() {
  const now = document.activeElement;
  if (!now || now === document.body || now === document.documentElement) return null;
  const all = reachable();
  const radio = (one) => now.matches('input[type=radio]') && one.name === now.name;
  const at = all.findIndex((one) => one === now || radio(one));
  return { at, name: described(now), unseen: unseen(now), all: all.map(described) };
}

const sentBytes = () =>
  [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
    .map((entry) => entry.transferSize)
    .reduce((all, bytes) => all + bytes, 0);

// ---- what keeps people out

const described = (element) => {
  const id = element.id ? `#${element.id}` : '';
  return `<${element.localName}${id}> “${named(element).slice(0, 40)}”`;
};

// A link among words is as high as its line, and may be.
function isInASentence(element) {
  if (!element.matches('a') || getComputedStyle(element).display !== 'inline') return false;
  let around = element.parentElement;
  while (around && getComputedStyle(around).display.startsWith('inline')) {
    around = around.parentElement;
  }
  const walk = document.createTreeWalker(around ?? document.body, NodeFilter.SHOW_TEXT);
  let beside = '';
  while (walk.nextNode()) {
    if (!walk.currentNode.parentElement.closest('a, button')) beside += walk.currentNode.data;
  }
  return /\p{L}{2}/u.test(beside);
}

// What is there for readers by ear, or until the keyboard comes to it, is no target.
function isDrawn(element) {
  const box = element.getBoundingClientRect();
  const right = box.right + scrollX;
  const bottom = box.bottom + scrollY;
  return isShown(element) && box.width > 2 && box.height > 2 && right > 0 && bottom > 0;
}

// The width and height that a finger may hit: a control's label belongs to it.
function hit(element) {
  const boxes = [element, ...(element.matches(TICKED) ? element.labels : [])]
    .filter(isDrawn)
    .map((part) => part.getBoundingClientRect());
  const left = Math.min(...boxes.map((box) => box.left));
  const top = Math.min(...boxes.map((box) => box.top));
  const right = Math.max(...boxes.map((box) => box.right));
  const bottom = Math.max(...boxes.map((box) => box.bottom));
  return [right - left, bottom - top];
}

function smallTargets(least) {
  const kinds = 'a[href], button, input:not([type=hidden]), select, textarea, summary, ' +
    '[role=button], [role=link], [role=tab], [role=switch], [role=checkbox], [role=radio]';
  return [...document.querySelectorAll(kinds)]
    .filter((element) => isDrawn(handle(element)) && !isInASentence(element))
    .map((element) => [element, ...hit(element)])
    .filter(([, width, height]) => width < least - 0.5 || height < least - 0.5)
    .map(([element, width, height]) =>
      `${described(element)}: ${width.toFixed(0)}×${height.toFixed(0)}`);
}

function wide(width) {
  const page = document.scrollingElement;
  if (page.scrollWidth <= width) return [];
  const over = (element) => element.getBoundingClientRect().right + scrollX > width + 0.5;
  const list = [...document.body.querySelectorAll('*')].filter(isShown).filter(over);
  return [`the page is ${page.scrollWidth} wide`, ...list.slice(0, 10).map(described)];
}

// Needs axe-core before it. What fades in has no colour of its own until it is there.
async function keptOut(tags) {
  await Promise.all(document.getAnimations().map((one) => one.finished));
  const told = await axe.run(document, {
    runOnly: { type: 'tag', values: tags },
    resultTypes: ['violations'],
  });
  return told.violations
    .filter((rule) => ['serious', 'critical'].includes(rule.impact))
    .flatMap((rule) => rule.nodes.map((node) => ({
      id: rule.id,
      target: node.target.flat().join(' '),
      summary: node.failureSummary,
    })));
}
