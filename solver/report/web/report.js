// SPDX-License-Identifier: GPL-3.0-or-later
// Turns the still pictures of a report into plots that answer to hovering, zooming and keys. Without
// the plotting library, or without scripts, the still pictures stay.
'use strict';
(function () {
  // On a phone each value of a wide table has the heading of its column before it, symbols as they are
  // set; without scripts, and in long tables, as plain text.
  const narrow = window.matchMedia('(max-width: 40rem)');
  function labelCells() {
    if (!narrow.matches) return;
    document.querySelectorAll('table.wide:not(.labelled)').forEach(table => {
      const heads = table.tHead.rows[0].cells, rows = Array.from(table.tBodies[0].rows);
      if (rows.length * heads.length > 3000) return;
      table.classList.add('labelled');
      rows.forEach(row => Array.from(row.cells).forEach((cell, i) => {
        if (i === 0 && !cell.classList.contains('number')) return;  // A name says what it is.
        if (!cell.hasChildNodes()) return;  // Nothing stands there.
        const label = document.createElement('span');
        label.className = 'label';
        label.append(...Array.from(heads[i].cloneNode(true).childNodes), ': ');
        cell.prepend(label);
      }));
    });
  }
  labelCells();
  narrow.addEventListener('change', labelCells);

  const data = JSON.parse(document.getElementById('plot-data').textContent);
  if (typeof uPlot === 'undefined' || !data.length) return;

  const dark = window.matchMedia('(prefers-color-scheme: dark)');
  const ink = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  const raised = {'-': '\u207b', 0: '\u2070', 1: '\u00b9', 2: '\u00b2', 3: '\u00b3', 4: '\u2074',
    5: '\u2075', 6: '\u2076', 7: '\u2077', 8: '\u2078', 9: '\u2079'};
  const power = exponent => '10' + String(exponent).split('').map(d => raised[d]).join('');

  // Six digits, with a power of ten where people would write one.
  function show(value) {
    if (value === null || value === undefined || Number.isNaN(value)) return '';
    const size = Math.abs(value);
    let text = String(Number(value.toPrecision(6)));
    if (size !== 0 && (size >= 1e6 || size < 1e-4)) {
      const [lead, exponent] = value.toExponential(4).split('e');
      text = Number(lead) + '\u00d7' + power(Number(exponent));
    }
    return text.replace('-', '\u2212');
  }

  // Labels in pieces at three levels: E_{acc}, Q_{0}, 10^{9}, and E_acc as the program writes it.
  const SYMBOL = /_\{([^}]*)\}|\^\{([^}]*)\}|(?<![\w.])([A-Zfk\u00b5\u03bc\u03b2])_([A-Za-z0-9]+)(?![\w.])/g;
  function pieces(label) {
    const found = [];
    let from = 0;
    for (const m of label.matchAll(SYMBOL)) {
      found.push([label.slice(from, m.index) + (m[3] || ''), 0]);
      found.push(m[2] !== undefined ? [m[2], 1] : [m[1] || m[4], -1]);
      from = m.index + m[0].length;
    }
    found.push([label.slice(from), 0]);
    return found.filter(([text]) => text);
  }

  const plain = label => pieces(label).map(([text, level]) =>
    level > 0 ? text.split('').map(d => raised[d] || d).join('') : text).join('');

  function rich(label) {
    const span = document.createElement('span');
    pieces(label).forEach(([text, level]) => {
      const part = level ? document.createElement(level > 0 ? 'sup' : 'sub') : null;
      if (part) part.textContent = text;
      span.append(part || text);
    });
    return span;
  }

  // The same on the canvas, from a place to the right; returns the width.
  function drawRich(c, label, x, y, size, draw) {
    const start = x;
    pieces(label).forEach(([text, level]) => {
      c.font = (level ? .75 * size : size) + 'px system-ui, sans-serif';
      if (draw) c.fillText(text, x, y - level * .3 * size);
      x += c.measureText(text).width;
    });
    return x - start;
  }

  // Labels of both axes, in the room that the library leaves.
  function drawLabels(u, plot) {
    const c = u.ctx, r = devicePixelRatio, size = 13 * r, {left, top, width, height} = u.bbox;
    const measure = label => drawRich(c, label, 0, 0, size, false);
    c.save();
    c.fillStyle = ink('--i1');
    c.textAlign = 'left';
    c.textBaseline = 'alphabetic';
    drawRich(c, plot.xLabel, left + (width - measure(plot.xLabel)) / 2, c.canvas.height - 6 * r, size, true);
    c.translate(15 * r, top + (height + measure(plot.yLabel)) / 2);
    c.rotate(-Math.PI / 2);
    drawRich(c, plot.yLabel, 0, 0, size, true);
    c.restore();
  }

  // A number at an axis: as short as it is round.
  function mark(value) {
    const size = Math.abs(value);
    if (value === 0 || (size >= 1e-3 && size < 1e5)) return show(value);
    const exponent = Math.floor(Math.log10(size) + 1e-9);
    const lead = Number((value / Math.pow(10, exponent)).toPrecision(4));
    return (lead === 1 ? '' : show(lead) + '\u00d7') + power(exponent);
  }

  // Room for the numbers of an upright axis, in pixels: the label stands beside the widest.
  const LEAST_AXIS = 64;
  function axisSize(u, values, index, cycle) {
    if (cycle > 1) return u.axes[index]._size;
    u.ctx.save();
    u.ctx.font = u.axes[index].font[0];
    const widths = (values || []).map(text => u.ctx.measureText(text).width / devicePixelRatio);
    u.ctx.restore();
    return Math.ceil(Math.max(LEAST_AXIS, Math.max(0, ...widths) + 19));
  }

  // A value with its unit; a dash while there is none.
  const withUnit = (unit, coarse) => (u, v) => v === null || v === undefined ? '\u2013'
    : show(coarse ? Number(v.toPrecision(5)) : v) + (unit ? '\u00a0' + unit : '');

  // Room at both ends, so that no mark is cut.
  const padded = (u, low, high) => {
    const room = (high - low || Math.abs(low) || 1) * .03;
    return [low - room, high + room];
  };

  // Of a count: half a step beyond the first and the last.
  const paddedCount = (u, low, high) => {
    const beside = Math.max(.5, .05 * (high - low));
    return [low - beside, high + beside];
  };

  const paddedLogarithmic = (u, low, high) => {
    const factor = Math.max(1.15, Math.pow(high / low, .1));
    return [low / factor, high * factor];
  };

  function decode(values) {
    if (typeof values !== 'string') return values;
    const bytes = Uint8Array.from(atob(values), c => c.charCodeAt(0));
    return new Float32Array(bytes.buffer);
  }

  // Values in steps of two or three bytes; the largest number stands for none.
  function decodeSteps({bytes, low, step, steps}) {
    const text = atob(steps), none = Math.pow(256, bytes) - 1, values = new Float32Array(text.length / bytes);
    for (let i = 0; i < values.length; i++) {
      let number = 0;
      for (let k = bytes - 1; k >= 0; k--) number = 256 * number + text.charCodeAt(bytes * i + k);
      values[i] = number === none ? NaN : low + number * step;
    }
    return values;
  }

  // Columns as the library wants them; a cloud's colour and number are there for the values below.
  function prepare(plot) {
    if (!plot.cloud) plot.x = decode(plot.x);
    if (plot.cloud) {
      plot.coarse = plot.x.exact === false;
      ['x', 'y', 'c', 'shape'].forEach(name => {
        plot[name] = plot.coarse ? decodeSteps(plot[name]) : decode(plot[name]);
      });
      plot.shape = plot.shape.map(Math.round);
      plot.dimensions.forEach(d => { d.values = d.exact ? decode(d.values) : decodeSteps(d); });
      return [plot.x, plot.y, plot.c, plot.shape];
    }
    plot.lines.forEach(line => { line.y = decode(line.y); });
    return [plot.x].concat(plot.lines.map(line => line.y));
  }

  // At least three round numbers of a part of a decade: steps of 1, 2 or 5.
  function roundNumbers(low, high) {
    let decade = Math.pow(10, Math.floor(Math.log10(high - low)));
    for (; decade > 0; decade /= 10) {
      for (const lead of [5, 2, 1]) {
        const step = lead * decade, numbers = [];
        for (let k = Math.ceil(low / step); k * step <= high; k++) numbers.push(Number((k * step).toPrecision(12)));
        if (numbers.length >= 3) return numbers;
      }
    }
    return [];
  }

  function axis(logarithmic) {
    const options = {
      label: ' ', stroke: ink('--i1'), grid: {stroke: ink('--i3'), width: 1},
      ticks: {stroke: ink('--i4'), width: 1}, font: '12px system-ui, sans-serif',
      labelFont: '13px system-ui, sans-serif', labelSize: 22,
      values: (u, splits) => splits.map(v => v === null ? '' : mark(v)),
    };
    if (logarithmic) {
      options.splits = (u, index, low, high) => {
        const all = [], decades = Math.log10(high / low), room = u.bbox.height / devicePixelRatio / 20;
        // Many decades have their powers of ten alone, as many as there is room for.
        if (3 * decades > room) {
          const every = Math.max(1, Math.ceil(decades / room));
          for (let k = Math.ceil(Math.log10(low) / every) * every; k <= Math.log10(high); k += every) {
            all.push(Number('1e' + k));
          }
          return all;
        }
        for (let k = Math.floor(Math.log10(low)); k <= Math.ceil(Math.log10(high)); k++) {
          for (let lead = 1; lead < 10; lead++) {
            const v = lead * Math.pow(10, k);
            if (v >= low && v <= high) all.push(v);
          }
        }
        const some = all.filter(v => [1, 2, 5].includes(Math.round(v / Math.pow(10,
          Math.floor(Math.log10(v) + 1e-9)))));
        const found = all.length <= 9 ? all : some;
        return found.length < 3 ? roundNumbers(low, high) : found;
      };
      options.filter = (u, splits) => splits;
    }
    return options;
  }

  // Clips to the inside of the axes.
  function clip(u) {
    u.ctx.save();
    u.ctx.beginPath();
    u.ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    u.ctx.clip();
  }

  // Dotted lines; their letters take turns where they would stand on each other.
  function drawUprights(u, uprights) {
    const c = u.ctx, r = devicePixelRatio, taken = [];
    clip(u);
    c.font = 11 * r + 'px system-ui, sans-serif';
    uprights.forEach(upright => {
      const x = Math.round(u.valToPos(upright.at, 'x', true)) + .5;
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) return;
      c.strokeStyle = c.fillStyle = ink(upright.ink);
      c.setLineDash([2 * r, 3 * r]);
      c.beginPath();
      c.moveTo(x, u.bbox.top);
      c.lineTo(x, u.bbox.top + u.bbox.height);
      c.stroke();
      const turn = taken.filter(other => Math.abs(other - x) < 12 * r).length;
      taken.push(x);
      c.fillText(upright.letter, x + 4 * r, u.bbox.top + (12 + 13 * turn) * r);
    });
    c.restore();
  }

  // Lines that guide the eye: no values to hover. Their text stands where they leave the frame.
  function drawGuides(u, guides) {
    const c = u.ctx, r = devicePixelRatio, {left, top, width, height} = u.bbox;
    guides.forEach(guide => {
      const at = guide.x.map((x, i) => guide.y[i] === null ? null
        : [u.valToPos(x, 'x', true), u.valToPos(guide.y[i], 'y', true)]);
      const inside = p => p && p[0] >= left && p[0] <= left + width && p[1] >= top && p[1] <= top + height;
      const last = at.reduce((found, p, i) => inside(p) ? i : found, -1);
      clip(u);
      c.strokeStyle = ink(guide.ink);
      c.lineWidth = guide.width * 1.3 * r;
      c.setLineDash(guide.dash ? [8 * r, 4 * r] : []);
      c.beginPath();
      at.forEach((p, i) => { if (p) { if (i > 0 && at[i - 1]) c.lineTo(p[0], p[1]); else c.moveTo(p[0], p[1]); } });
      c.stroke();
      c.restore();
      if (last < 0 || !guide.end) return;
      const [x, y] = at[last], next = at[last + 1], above = next && next[1] < top;
      c.save();
      c.font = 11 * r + 'px system-ui, sans-serif';
      c.fillStyle = ink('--i2');
      c.textAlign = above ? 'center' : 'right';
      if (above) c.fillText(guide.end, x + (next[0] - x) * (y - top) / (y - next[1]), top - 4 * r);
      else c.fillText(guide.end, left + width - 3 * r, y - 4 * r);
      c.restore();
    });
  }

  // Many points are a cloud: small, and lines go over it.
  const dense = line => line.y.filter(y => y !== null).length > 200;

  // Marks: discs, diamonds, triangles, squares; bars with ends have none.
  function drawMarks(u, line, index) {
    const c = u.ctx, r = (dense(line) ? 1.7 : 3.2) * devicePixelRatio, scale = u.series[index].scale;
    if (line.ends) return;
    clip(u);
    c.fillStyle = ink(line.ink);
    line.y.forEach((value, i) => {
      if (value === null) return;
      const x = u.valToPos(u.data[0][i], 'x', true), y = u.valToPos(value, scale, true);
      c.beginPath();
      if (!line.mark) c.arc(x, y, r, 0, 2 * Math.PI);
      else if (line.mark === 1) [[0, -1.3], [1.3, 0], [0, 1.3], [-1.3, 0]].forEach(p => c.lineTo(x + p[0] * r, y + p[1] * r));
      else if (line.mark === 2) [[0, -1.3], [1.2, .9], [-1.2, .9]].forEach(p => c.lineTo(x + p[0] * r, y + p[1] * r));
      else c.rect(x - r, y - r, 2 * r, 2 * r);
      c.fill();
    });
    c.restore();
  }

  // Error bars: half widths along x and y of each point of a line.
  function drawErrors(u, line, index) {
    const c = u.ctx, r = devicePixelRatio, scale = u.series[index].scale;
    clip(u);
    c.strokeStyle = ink(line.ink);
    c.lineWidth = 1.3 * r;
    c.beginPath();
    line.y.forEach((y, i) => {
      if (y === null) return;
      const x = u.data[0][i], px = u.valToPos(x, 'x', true), py = u.valToPos(y, scale, true);
      if (line.dy && line.dy[i]) {
        const low = u.valToPos(Math.max(y - line.dy[i], u.scales[scale].min), scale, true);
        const high = u.valToPos(y + line.dy[i], scale, true);
        c.moveTo(px, low);
        c.lineTo(px, high);
        if (line.ends) [low, high].forEach(end => { c.moveTo(px - 4 * r, end); c.lineTo(px + 4 * r, end); });
      }
      if (line.dx && line.dx[i]) {
        c.moveTo(u.valToPos(x - line.dx[i], 'x', true), py);
        c.lineTo(u.valToPos(x + line.dx[i], 'x', true), py);
      }
    });
    c.stroke();
    c.restore();
  }

  // A place of a peak; a triangle at the upper end where it is unbounded.
  function drawPeak(u, peak, [atX, atY]) {
    const c = u.ctx, r = 5 * devicePixelRatio, x = u.valToPos(atX, 'x', true);
    const y = peak.beyond ? u.bbox.top + 1.5 * r : u.valToPos(atY, 'y', true);
    if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) return;
    c.save();
    c.fillStyle = ink(peak.ink);
    c.strokeStyle = ink('--i0');
    c.lineWidth = 2 * devicePixelRatio;
    c.beginPath();
    if (peak.beyond) {
      c.moveTo(x, y - r);
      c.lineTo(x + r, y + .7 * r);
      c.lineTo(x - r, y + .7 * r);
      c.closePath();
    } else {
      c.arc(x, y, r, 0, 2 * Math.PI);
    }
    c.stroke();
    c.fill();
    c.restore();
  }

  // Two fingers zoom along x around the place between them, one moves what is zoomed, as promised
  // below each plot; up and down the page scrolls.
  function touch(plot) {
    const u = plot.u, over = u.over, xs = plot.data[0], at = new Map();
    let all = null;  // A new plot has no scales yet.
    const look = () => {
      const {min, max} = u.scales.x;
      all = {min: Math.min(min, xs[0]), max: Math.max(max, xs[xs.length - 1])};
    };
    over.style.touchAction = 'pan-y';
    const place = event => u.posToVal(event.clientX - over.getBoundingClientRect().left, 'x');
    const show = (low, high) => {
      const span = Math.min(high - low, all.max - all.min);
      const min = Math.max(all.min, Math.min(low, all.max - span));
      if (span > (all.max - all.min) * 1e-3 && xs.length > 1) u.setScale('x', {min, max: min + span});
    };
    over.addEventListener('pointerdown', event => {
      if (event.pointerType !== 'touch') return;
      if (!all) look();
      at.set(event.pointerId, place(event));
    });
    over.addEventListener('pointermove', event => {
      if (!at.has(event.pointerId)) return;
      const before = at.get(event.pointerId), now = place(event), {min, max} = u.scales.x;
      if (at.size === 1) {
        show(min + before - now, max + before - now);
        return;  // What is below the finger stays below it.
      }
      const other = [...at].find(([id]) => id !== event.pointerId)[1];
      if (Math.abs(now - other) > 1e-9 * (max - min)) {
        const factor = Math.abs((before - other) / (now - other));
        show(other - (other - min) * factor, other + (max - other) * factor);
      }
      at.set(event.pointerId, place(event));
    });
    ['pointerup', 'pointercancel', 'pointerleave'].forEach(name =>
      over.addEventListener(name, event => at.delete(event.pointerId)));
  }

  // Colours that stand out from a page of this theme.
  const palette = plot => plot.palettes[dark.matches ? 1 : 0];

  const gradient = plot => 'linear-gradient(90deg,' + palette(plot).join(',') + ')';

  // The colours of a cloud, with the values of their ends.
  function writeColours(plot, place) {
    const box = document.createElement('div'), bar = document.createElement('span');
    box.className = 'colours';
    bar.className = 'bar';
    plot.bar = bar;
    bar.style.background = gradient(plot);
    box.append(rich(plot.cName), (plot.cUnit ? ' in ' + plot.cUnit : '') + ': ' + show(plot.cRange[0]), bar,
      show(plot.cRange[1]));
    place.parentNode.insertBefore(box, place.nextSibling);
  }

  // What the best shapes reach together: steps from each to the next.
  function drawSteps(u, plot) {
    const c = u.ctx;
    if (plot.stepsBefore === null) return;
    c.beginPath();
    plot.marked.forEach((i, k) => {
      const x = u.valToPos(plot.x[i], 'x', true), y = u.valToPos(plot.y[i], 'y', true);
      if (k > 0) {
        const before = plot.marked[k - 1];
        if (plot.stepsBefore) c.lineTo(u.valToPos(plot.x[before], 'x', true), y);
        else c.lineTo(x, u.valToPos(plot.y[before], 'y', true));
      }
      if (k > 0) c.lineTo(x, y); else c.moveTo(x, y);
    });
    c.stroke();
  }

  // Number and dimensions of the shape at the pointer, in a box that is on the side with more room.
  function nameShape(u, plot) {
    if (!plot.box) {
      plot.box = document.createElement('div');
      plot.box.className = 'shape-box';
    }
    const i = plot.at, hidden = i === null || i === undefined || u.cursor.left < 0;
    plot.box.hidden = hidden;
    if (hidden) return;
    plot.box.textContent = '';
    const line = (tag, text) => {
      const element = document.createElement(tag);
      element.textContent = text;
      plot.box.append(element);
    };
    line('strong', 'shape ' + plot.shape[i]);
    plot.dimensions.forEach(d => {
      line('span', d.key);
      line('span', Number.isNaN(d.values[i]) ? '\u2013' : d.exact ? show(d.values[i])
        : show(Number(d.values[i].toPrecision(5))));
    });
    if (plot.box.parentNode !== u.over) u.over.append(plot.box);
    const x = u.valToPos(plot.x[i], 'x'), y = u.valToPos(plot.y[i], 'y'), right = x > u.over.clientWidth / 2;
    plot.box.style.left = right ? '' : Math.max(0, x + 14) + 'px';
    plot.box.style.right = right ? u.over.clientWidth - x + 14 + 'px' : '';
    plot.box.style.top = Math.max(0, Math.min(y - 20, u.over.clientHeight - plot.box.offsetHeight)) + 'px';
  }

  // All points of one colour in one path: a hundred thousand are drawn in a blink.
  function drawCloud(u, plot) {
    const c = u.ctx, r = (plot.x.length > 3000 ? 1.5 : 3) * devicePixelRatio;
    const colours = palette(plot), bins = colours.map(() => []), span = plot.cRange[1] - plot.cRange[0];
    for (let i = 0; i < plot.x.length; i++) {
      const share = (plot.c[i] - plot.cRange[0]) / span;
      bins[Math.max(0, Math.min(bins.length - 1, Math.floor(share * bins.length)))].push(i);
    }
    clip(u);
    bins.forEach((list, k) => {
      c.fillStyle = colours[k];
      c.beginPath();
      list.forEach(i => {
        const x = u.valToPos(plot.x[i], 'x', true), y = u.valToPos(plot.y[i], 'y', true);
        c.moveTo(x + r, y);
        c.arc(x, y, r, 0, 2 * Math.PI);
      });
      c.fill();
    });
    c.strokeStyle = ink('--i12');
    c.lineWidth = 1.5 * devicePixelRatio;
    drawSteps(u, plot);
    plot.marked.forEach(i => {
      c.beginPath();
      c.arc(u.valToPos(plot.x[i], 'x', true), u.valToPos(plot.y[i], 'y', true),
        r + 2 * devicePixelRatio, 0, 2 * Math.PI);
      c.stroke();
    });
    c.restore();
  }

  // The point of a cloud that is nearest to the pointer on the screen.
  function nearest(u, plot) {
    const {left, top} = u.cursor, sx = u.bbox.width / (u.scales.x.max - u.scales.x.min),
      sy = u.bbox.height / (u.scales.y.max - u.scales.y.min);
    if (left < 0) return null;
    const x = u.posToVal(left, 'x'), y = u.posToVal(top, 'y');
    let best = null, distance = Infinity;
    for (let i = 0; i < plot.x.length; i++) {
      const d = Math.hypot((plot.x[i] - x) * sx, (plot.y[i] - y) * sy);
      if (d < distance) { distance = d; best = i; }
    }
    return best;
  }

  function cloudOptions(plot, options) {
    const none = {paths: () => null, stroke: ink('--i13')};
    options.series = [options.series[0],
      Object.assign({label: rich(plot.yName), value: withUnit(plot.yUnit), points: {show: false}}, none),
      Object.assign({label: rich(plot.cName), value: withUnit(plot.cUnit, plot.coarse), scale: 'c', points: {show: false}}, none),
      Object.assign({label: 'shape', value: (u, v) => v === null || v === undefined ? '\u2013' : String(v), scale: 'n',
        points: {show: false}}, none)];
    options.scales.c = {auto: false, range: () => [0, 1]};
    options.scales.n = {auto: false, range: () => [0, 1]};
    options.height = 460;
    options.cursor = {drag: {x: true, y: true, uni: 20},
      dataIdx: (u, series, index) => { if (series === 0) plot.at = nearest(u, plot);
        return plot.at === null ? index : plot.at; },
      points: {size: (u, k) => k === 1 ? 12 : 0, fill: 'transparent', stroke: ink('--i1'), width: 2}};
    options.hooks.draw = [u => { drawLabels(u, plot); drawCloud(u, plot); }];
    options.hooks.setCursor = [u => nameShape(u, plot)];
    options.scales.y.range = padded;
    options.scales.x.range = padded;
    return options;
  }

  // Curves go smoothly through their points, without rising above or falling below them, so that they
  // stay smooth when they are zoomed.
  const smooth = uPlot.paths.spline();

  function series(line) {
    const colour = ink(line.ink);
    const options = {label: rich(line.label), stroke: colour, width: line.dots ? 0 : 2, scale: 'y',
      value: withUnit(line.unit), fill: line.dots && !line.ends ? colour : undefined,
      points: {show: false, fill: colour, stroke: colour},
      class: !line.label ? 'nameless' : line.dots && !line.ends ? 'mark-' + (line.mark || 0) : 'no-mark',
      spanGaps: Boolean(line.span), pxAlign: 0, paths: line.dots ? () => null : smooth};
    if (line.dash) options.dash = [5, 4];
    return options;
  }

  // What guides the eye is named below the values.
  function writeGuides(plot, place) {
    plot.guides.filter(guide => guide.text).forEach(guide => {
      const line = document.createElement('div'), sample = document.createElement('span');
      line.className = 'guide';
      sample.style.borderTop = '2px ' + (guide.dash ? 'dashed ' : 'solid ') + 'var(' + guide.ink + ')';
      line.append(sample, rich(guide.text));
      place.parentNode.insertBefore(line, place.nextSibling);
    });
  }

  function build(plot, place) {
    const logarithmic = Boolean(plot.log), height = plot.height || 300;
    const options = {
      width: place.clientWidth, height: height, pxAlign: 0,
      scales: {x: {time: false, range: plot.counts ? paddedCount
          : plot.lines.some(line => line.dots) ? padded : undefined},
        y: {distr: logarithmic ? 3 : 1,
          range: plot.yRange ? () => plot.yRange : logarithmic ? paddedLogarithmic : undefined}},
      axes: [plot.counts ? Object.assign(axis(false), {incrs: [1, 2, 5, 10, 20, 50, 100, 200, 500]})
        : axis(false), Object.assign(axis(logarithmic), {size: axisSize})],
      series: [{label: rich(plot.xName), value: withUnit(plot.xUnit)}]
        .concat(plot.lines.map(series)),
      cursor: {drag: {x: true, y: false}, points: {size: 8}},
      legend: {live: true, markers: {width: 2, dash: (u, k) => u.series[k].dash ? 'dashed' : 'solid',
        fill: (u, k) => plot.lines[k - 1] && plot.lines[k - 1].dots ? ink(plot.lines[k - 1].ink) : 'transparent',
        stroke: (u, k) => ink(plot.lines[k - 1] ? plot.lines[k - 1].ink : '--i13')}},
      hooks: {drawClear: [u => {
        if (plot.guides) drawGuides(u, plot.guides);
        plot.lines.forEach((line, k) => { if (line.dots && dense(line)) drawMarks(u, line, k + 1); });
      }], draw: [u => {
        drawLabels(u, plot);
        if (plot.uprights) drawUprights(u, plot.uprights);
        plot.lines.forEach((line, k) => { if (line.dy || line.dx) drawErrors(u, line, k + 1); });
        plot.lines.forEach((line, k) => { if (line.dots && !dense(line)) drawMarks(u, line, k + 1); });
        if (plot.peaks) plot.peaks.at.forEach(at => drawPeak(u, plot.peaks, at));
      }]},
    };
    return new uPlot(plot.cloud ? cloudOptions(plot, options) : options, plot.data, place);
  }

  // Arrow keys walk along the curve, + and - zoom around the place, 0 or Escape shows all.
  function onKey(event, plot, u) {
    const xs = plot.data[0], range = u.scales.x;
    let at = u.cursor.idx === null || u.cursor.idx === undefined ? Math.floor(xs.length / 2) : u.cursor.idx;
    const step = event.shiftKey ? Math.max(1, Math.round(xs.length / 20)) : 1;
    const zoom = factor => {
      const half = (range.max - range.min) * factor / 2;
      u.setScale('x', {min: Math.max(xs[0], xs[at] - half), max: Math.min(xs[xs.length - 1], xs[at] + half)});
    };
    if (event.key === 'ArrowRight') at = Math.min(xs.length - 1, at + step);
    else if (event.key === 'ArrowLeft') at = Math.max(0, at - step);
    else if (event.key === 'Home') at = 0;
    else if (event.key === 'End') at = xs.length - 1;
    else if (event.key === '+' || event.key === '=') zoom(.5);
    else if (event.key === '-') zoom(2);
    else if (event.key === '0' || event.key === 'Escape') {
      u.setScale('x', {min: xs[0], max: xs[xs.length - 1]});
    } else return;
    event.preventDefault();
    const line = plot.data.slice(1).find(values => values[at] !== null);
    u.setCursor({left: u.valToPos(xs[at], 'x'), top: line ? u.valToPos(line[at], 'y') : 10});
    plot.spoken.textContent = u.series.map((s, k) =>
      plot.names[k] + ' ' + show(plot.data[k][at])).concat((plot.dimensions || []).map(d =>
      d.key + ' ' + show(d.values[at]))).join(', ');
  }

  function start(plot) {
    const place = document.getElementById(plot.id);
    if (!place) return;
    plot.data = plot.data || prepare(plot);
    plot.names = [plot.xName].concat(plot.cloud ? [plot.yName, plot.cName, 'shape']
      : plot.lines.map(line => line.label)).map(plain);
    plot.spoken = document.createElement('span');
    plot.spoken.className = 'skip';
    plot.spoken.setAttribute('aria-live', 'polite');
    place.parentNode.appendChild(plot.spoken);
    // The still picture stays until there is something to look at in its place.
    place.closest('figure').classList.add('scripted');
    place.textContent = '';
    plot.u = build(plot, place);
    touch(plot);
    if (plot.cloud) writeColours(plot, place);
    if (plot.guides) writeGuides(plot, place);
    place.addEventListener('keydown', event => onKey(event, plot, plot.u));
    new ResizeObserver(() => {
      if (place.clientWidth > 0 && place.clientWidth !== plot.u.width) {
        plot.u.setSize({width: place.clientWidth, height: plot.u.height});
      }
    }).observe(place);
  }

  // Plots are built when they come near the window: the page is there at once, however many it has.
  const watcher = new IntersectionObserver(entries => entries.forEach(entry => {
    if (!entry.isIntersecting) return;
    watcher.unobserve(entry.target);
    start(data.find(plot => plot.id === entry.target.id));
  }), {rootMargin: '600px'});
  data.forEach(plot => {
    const place = document.getElementById(plot.id);
    if (!place) return;
    const figure = place.closest('figure');
    if (figure.classList.contains('no-still')) figure.classList.add('scripted');
    place.textContent = '\u00a0';
    place.setAttribute('tabindex', '0');
    watcher.observe(place);
    place.addEventListener('focus', () => { if (!plot.u) { watcher.unobserve(place); start(plot); } });
  });
  // The others while nothing else is to do, one at a time: pictures of the whole page have them all.
  const later = window.requestIdleCallback || (work => setTimeout(work, 200));
  const next = () => {
    const plot = data.find(p => !p.u && document.getElementById(p.id));
    if (!plot) return;
    watcher.unobserve(document.getElementById(plot.id));
    start(plot);
    later(next);
  };
  later(next);
  dark.addEventListener('change', () => data.forEach(plot => {
    if (!plot.u) return;
    plot.u.destroy();
    plot.u = build(plot, document.getElementById(plot.id));
    touch(plot);
    if (plot.bar) plot.bar.style.background = gradient(plot);
  }));
  window.addEventListener('beforeprint', () =>
    document.querySelectorAll('details:not(.licence)').forEach(d => { d.open = true; }));
})();
