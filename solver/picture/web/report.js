// SPDX-License-Identifier: GPL-3.0-or-later
// Turns the still pictures of a report into plots that answer to hovering, zooming and keys. Without
// the plotting library, or without scripts, the still pictures stay.
'use strict';
(function () {
  const data = JSON.parse(document.getElementById('plot-data').textContent);
  if (typeof uPlot === 'undefined' || !data.length) return;

  const dark = window.matchMedia('(prefers-color-scheme: dark)');
  const ink = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  // Five digits, without an exponent where people would not write one.
  function show(value) {
    if (value === null || value === undefined || Number.isNaN(value)) return '';
    const size = Math.abs(value);
    const text = size !== 0 && (size >= 1e6 || size < 1e-4) ? value.toExponential(4)
      : String(Number(value.toPrecision(6)));
    return text.replace('-', '\u2212');
  }

  function decode(values) {
    if (typeof values !== 'string') return values;
    const bytes = Uint8Array.from(atob(values), c => c.charCodeAt(0));
    return new Float32Array(bytes.buffer);
  }

  // Sorted by the abscissa, as the library wants it; error bars and colours go along.
  function prepare(plot) {
    plot.x = decode(plot.x);
    plot.lines.forEach(line => { line.y = decode(line.y); });
    return [plot.x].concat(plot.lines.map(line => line.y));
  }

  function axis(label, logarithmic) {
    const options = {
      label: label, stroke: ink('--i1'), grid: {stroke: ink('--i3'), width: 1},
      ticks: {stroke: ink('--i4'), width: 1}, font: '12px system-ui, sans-serif',
      labelFont: '13px system-ui, sans-serif', labelSize: 22,
      values: (u, splits) => splits.map(v => v === null ? '' : show(v)),
    };
    if (logarithmic) {
      options.filter = (u, splits) => splits.map(v => {
        const lead = v / Math.pow(10, Math.floor(Math.log10(v) + 1e-9));
        return [1, 2, 5].some(d => Math.abs(lead - d) < 1e-6) ? v : null;
      });
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

  function series(line) {
    const colour = ink(line.ink);
    const options = {label: line.label, stroke: colour, width: line.dots ? 0 : 2, scale: 'y',
      value: (u, v) => show(v) + (line.unit && v !== null ? ' ' + line.unit : ''),
      points: {show: Boolean(line.dots), size: line.dots || 5, fill: colour, stroke: colour},
      spanGaps: Boolean(line.span)};
    if (line.dots) options.paths = () => null;
    if (line.dash) options.dash = [5, 4];
    return options;
  }

  function build(plot, place) {
    const logarithmic = Boolean(plot.log), height = plot.height || 300;
    const options = {
      width: place.clientWidth, height: height,
      scales: {x: {time: false, range: plot.xRange ? (u, a, b) => u.zoomed ? [a, b] : plot.xRange : undefined},
        y: {distr: logarithmic ? 3 : 1, range: plot.yRange ? () => plot.yRange : undefined}},
      axes: [axis(plot.xLabel, false), Object.assign(axis(plot.yLabel, logarithmic), {size: 64})],
      series: [{label: plot.xName, value: (u, v) => show(v) + (plot.xUnit ? ' ' + plot.xUnit : '')}]
        .concat(plot.lines.map(series)),
      cursor: {drag: {x: true, y: false}, points: {size: 8}},
      legend: {live: true},
      hooks: {draw: [u => {
        if (plot.uprights) drawUprights(u, plot.uprights);
        plot.lines.forEach((line, k) => { if (line.dy || line.dx) drawErrors(u, line, k + 1); });
      }]},
    };
    return new uPlot(options, plot.data, place);
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
      u.setScale('x', plot.xRange ? {min: plot.xRange[0], max: plot.xRange[1]}
        : {min: xs[0], max: xs[xs.length - 1]});
    } else return;
    event.preventDefault();
    const line = plot.data.slice(1).find(values => values[at] !== null);
    u.setCursor({left: u.valToPos(xs[at], 'x'), top: line ? u.valToPos(line[at], 'y') : 10});
    plot.spoken.textContent = u.series.map((s, k) =>
      s.label + ' ' + show(plot.data[k][at])).join(', ');
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
  dark.addEventListener('change', () => data.forEach(plot => {
    if (!plot.u) return;
    plot.u.destroy();
    plot.u = build(plot, document.getElementById(plot.id));
  }));
  window.addEventListener('beforeprint', () =>
    document.querySelectorAll('details').forEach(d => { d.open = true; }));
})();
