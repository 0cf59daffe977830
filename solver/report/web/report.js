// SPDX-License-Identifier: GPL-3.0-or-later
// Turns the still pictures of a report into plots that answer to hovering, zooming and keys. Without
// the plotting library, or without scripts, the still pictures stay.
'use strict';
(function () {
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

  // A number at an axis: as short as it is round.
  function mark(value) {
    const size = Math.abs(value);
    if (value === 0 || (size >= 1e-3 && size < 1e5)) return show(value);
    const exponent = Math.floor(Math.log10(size) + 1e-9);
    const lead = Number((value / Math.pow(10, exponent)).toPrecision(4));
    return (lead === 1 ? '' : show(lead) + '\u00d7') + power(exponent);
  }

  // A value with its unit; a dash while there is none.
  const withUnit = unit => (u, v) => v === null || v === undefined ? '\u2013'
    : show(v) + (unit ? '\u00a0' + unit : '');

  // Room at both ends, so that no mark is cut.
  const padded = (u, low, high) => {
    const room = (high - low || Math.abs(low) || 1) * .03;
    return [low - room, high + room];
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

  // Values in steps of 16 bits; the largest stands for none.
  function decodeSteps(dimension) {
    const steps = new Uint16Array(decode(dimension.steps).buffer);
    return Float32Array.from(steps, s => s === 65535 ? NaN : dimension.low + s * dimension.step);
  }

  // Columns as the library wants them; a cloud's colour and number are there for the values below.
  function prepare(plot) {
    plot.x = decode(plot.x);
    if (plot.cloud) {
      plot.y = decode(plot.y);
      plot.c = decode(plot.c);
      plot.shape = decode(plot.shape);
      plot.dimensions.forEach(d => { d.values = d.exact ? decode(d.values) : decodeSteps(d); });
      return [plot.x, plot.y, plot.c, plot.shape];
    }
    plot.lines.forEach(line => { line.y = decode(line.y); });
    return [plot.x].concat(plot.lines.map(line => line.y));
  }

  function axis(label, logarithmic) {
    const options = {
      label: label, stroke: ink('--i1'), grid: {stroke: ink('--i3'), width: 1},
      ticks: {stroke: ink('--i4'), width: 1}, font: '12px system-ui, sans-serif',
      labelFont: '13px system-ui, sans-serif', labelSize: 22,
      values: (u, splits) => splits.map(v => v === null ? '' : mark(v)),
    };
    if (logarithmic) {
      options.splits = (u, index, low, high) => {
        const all = [];
        for (let k = Math.floor(Math.log10(low)); k <= Math.ceil(Math.log10(high)); k++) {
          for (let lead = 1; lead < 10; lead++) {
            const v = lead * Math.pow(10, k);
            if (v >= low && v <= high) all.push(v);
          }
        }
        const some = all.filter(v => [1, 2, 5].includes(Math.round(v / Math.pow(10,
          Math.floor(Math.log10(v) + 1e-9)))));
        return all.length <= 9 ? all : some;
      };
      options.filter = (u, splits) => splits;
    }
    return options;
  }

  function drawUprights(u, places) {
    const c = u.ctx;
    c.save();
    c.strokeStyle = ink('--i4');
    c.setLineDash([2 * devicePixelRatio, 3 * devicePixelRatio]);
    c.beginPath();
    places.forEach(place => {
      const x = Math.round(u.valToPos(place, 'x', true)) + .5;
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) return;
      c.moveTo(x, u.bbox.top);
      c.lineTo(x, u.bbox.top + u.bbox.height);
    });
    c.stroke();
    c.restore();
  }

  // Error bars: half widths along x and y of each point of a line.
  function drawErrors(u, line, index) {
    const c = u.ctx, r = devicePixelRatio, scale = u.series[index].scale;
    const inside = (x, y) => x >= u.bbox.left && x <= u.bbox.left + u.bbox.width &&
      y >= u.bbox.top && y <= u.bbox.top + u.bbox.height;
    c.save();
    c.strokeStyle = ink(line.ink);
    c.lineWidth = 1.3 * r;
    c.beginPath();
    line.y.forEach((y, i) => {
      if (y === null) return;
      const x = u.data[0][i], px = u.valToPos(x, 'x', true), py = u.valToPos(y, scale, true);
      if (!inside(px, py)) return;
      if (line.dy && line.dy[i]) {
        const low = Math.max(y - line.dy[i], u.scales[scale].min);
        c.moveTo(px, u.valToPos(low, scale, true));
        c.lineTo(px, u.valToPos(y + line.dy[i], scale, true));
      }
      if (line.dx && line.dx[i]) {
        c.moveTo(u.valToPos(x - line.dx[i], 'x', true), py);
        c.lineTo(u.valToPos(x + line.dx[i], 'x', true), py);
      }
    });
    c.stroke();
    c.restore();
  }

  // The place of a peak; a triangle at the upper end where it is unbounded.
  function drawPeak(u, peak) {
    const c = u.ctx, r = 5 * devicePixelRatio, x = u.valToPos(peak.x, 'x', true);
    const y = peak.beyond ? u.bbox.top + 1.5 * r : u.valToPos(peak.y, 'y', true);
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
    const all = {min: u.scales.x.min, max: u.scales.x.max};
    over.style.touchAction = 'pan-y';
    const place = event => u.posToVal(event.clientX - over.getBoundingClientRect().left, 'x');
    const show = (low, high) => {
      const span = Math.min(high - low, all.max - all.min);
      const min = Math.max(all.min, Math.min(low, all.max - span));
      if (span > (all.max - all.min) * 1e-3 && xs.length > 1) u.setScale('x', {min, max: min + span});
    };
    over.addEventListener('pointerdown', event => {
      if (event.pointerType === 'touch') at.set(event.pointerId, place(event));
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
    box.append(plot.cName + (plot.cUnit ? ' in ' + plot.cUnit : '') + ': ' + show(plot.cRange[0]), bar,
      show(plot.cRange[1]));
    place.parentNode.insertBefore(box, place.nextSibling);
  }

  // What the best shapes reach together: steps from each to the next.
  function drawSteps(u, plot) {
    const c = u.ctx;
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
    c.save();
    c.beginPath();
    c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    c.clip();
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
      Object.assign({label: plot.yName, value: withUnit(plot.yUnit), points: {show: false}}, none),
      Object.assign({label: plot.cName, value: withUnit(plot.cUnit), scale: 'c', points: {show: false}}, none),
      Object.assign({label: 'shape', value: (u, v) => v === null || v === undefined ? '\u2013' : String(v), scale: 'n',
        points: {show: false}}, none)];
    options.scales.c = {auto: false, range: () => [0, 1]};
    options.scales.n = {auto: false, range: () => [0, 1]};
    options.height = 460;
    options.cursor = {drag: {x: true, y: true, uni: 20},
      dataIdx: (u, series, index) => { if (series === 0) plot.at = nearest(u, plot);
        return plot.at === null ? index : plot.at; },
      points: {size: (u, k) => k === 1 ? 12 : 0, fill: 'transparent', stroke: ink('--i1'), width: 2}};
    options.hooks.draw = [u => drawCloud(u, plot)];
    options.hooks.setCursor = [u => nameShape(u, plot)];
    options.scales.y.range = padded;
    options.scales.x.range = padded;
    return options;
  }

  function series(line) {
    const colour = ink(line.ink);
    const options = {label: line.label, stroke: colour, width: line.dots ? 0 : 2, scale: 'y',
      value: withUnit(line.unit),
      points: {show: Boolean(line.dots), size: line.dots || 5, fill: colour, stroke: colour},
      spanGaps: Boolean(line.span), pxAlign: 0};
    if (line.dots) options.paths = () => null;
    if (line.dash) options.dash = [5, 4];
    return options;
  }

  function build(plot, place) {
    const logarithmic = Boolean(plot.log), height = plot.height || 300;
    const options = {
      width: place.clientWidth, height: height, pxAlign: 0,
      scales: {x: {time: false, range: plot.lines.some(line => line.dots) ? padded : undefined},
        y: {distr: logarithmic ? 3 : 1,
          range: plot.yRange ? () => plot.yRange : logarithmic ? paddedLogarithmic : undefined}},
      axes: [axis(plot.xLabel, false), Object.assign(axis(plot.yLabel, logarithmic), {size: 64})],
      series: [{label: plot.xName, value: withUnit(plot.xUnit)}]
        .concat(plot.lines.map(series)),
      cursor: {drag: {x: true, y: false}, points: {size: 8}},
      legend: {live: true},
      hooks: {draw: [u => {
        if (plot.uprights) drawUprights(u, plot.uprights);
        if (plot.peak) drawPeak(u, plot.peak);
        plot.lines.forEach((line, k) => { if (line.dy || line.dx) drawErrors(u, line, k + 1); });
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
      s.label + ' ' + show(plot.data[k][at])).concat((plot.dimensions || []).map(d =>
      d.key + ' ' + show(d.values[at]))).join(', ');
  }

  function start(plot) {
    const place = document.getElementById(plot.id);
    if (!place) return;
    plot.data = plot.data || prepare(plot);
    plot.spoken = document.createElement('span');
    plot.spoken.className = 'skip';
    plot.spoken.setAttribute('aria-live', 'polite');
    place.parentNode.appendChild(plot.spoken);
    place.textContent = '';
    plot.u = build(plot, place);
    touch(plot);
    if (plot.cloud) writeColours(plot, place);
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
    place.closest('figure').classList.add('scripted');
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
