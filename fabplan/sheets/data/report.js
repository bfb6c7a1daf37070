"use strict";
(() => {
  const CLOSEST = 1e-4; // mm to a px: beyond this the lines of a screen's arithmetic show
  const STEP = 1.4, PAN = 0.15, SLIP = 4, GLIDE = 240;
  const PRINTED = { width: 703, height: 310 }; // px: the picture on A4, 186 x 82 mm
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const between = (least, value, most) => Math.min(Math.max(value, least), most);

  function viewer(article) {
    const plate = article.querySelector(".plate");
    const svg = plate.querySelector("svg");
    const said = article.querySelector(".said");
    const bar = article.querySelector(".bar"), long = article.querySelector(".long"), spot = article.querySelector(".spot");
    const [left, top, width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    const [lowX, highY] = svg.dataset.low.split(" ").map(Number);
    const floating = [...svg.querySelectorAll("[data-x]")].map((node) => ({
      node, x: Number(node.dataset.x), y: Number(node.dataset.y), text: node.querySelector("text"),
    }));
    const letters = floating.filter((one) => one.node.classList.contains("letter"));
    for (const one of letters) {
      one.wide = 7 * one.text.textContent.length + 4;
      one.dx = Number(one.text.getAttribute("x")) - (one.text.getAttribute("text-anchor") === "end" ? one.wide : 0);
      one.dy = Number(one.text.getAttribute("y")) - 12;
    }
    let size = { width: 1, height: 1 }, whole = 1, view = { x: 0, y: 0, k: 1 }, glide = 0, waiting = 0;

    function measure() {
      size = { width: svg.clientWidth || 1, height: svg.clientHeight || 1 };
      const fitted = view.k >= whole * 0.999;
      whole = Math.max(width / size.width, height / size.height);
      if (fitted) view = fit();
      draw();
    }
    const fit = () => ({ x: left + width / 2, y: top + height / 2, k: whole });

    function draw() {
      waiting = 0;
      const w = size.width * view.k, h = size.height * view.k;
      svg.setAttribute("viewBox", `${view.x - w / 2} ${view.y - h / 2} ${w} ${h}`);
      for (const one of floating) one.node.setAttribute("transform", `translate(${one.x} ${one.y}) scale(${view.k})`);
      tidy();
      scale();
    }
    function later() { if (!waiting) waiting = requestAnimationFrame(draw); }

    function tidy() { // a letter shows where it covers no ring and no other letter
      const taken = floating.filter((one) => !letters.includes(one)).map((one) => box(one, -14, -22, 30, 36));
      for (const one of letters) {
        const own = box(one, one.dx, one.dy, one.wide, 15);
        const clear = taken.every((other) => own.r <= other.l || own.l >= other.r || own.b <= other.t || own.t >= other.b);
        one.node.classList.toggle("hidden", !clear);
        if (clear) taken.push(own);
      }
    }
    function box(one, dx, dy, w, h) {
      const l = (one.x - view.x) / view.k + dx, t = (one.y - view.y) / view.k + dy;
      return { l, t, r: l + w, b: t + h };
    }
    function scale() {
      const most = 110 * view.k, ten = 10 ** Math.floor(Math.log10(most));
      const length = [5, 2, 1].map((n) => n * ten).find((one) => one <= most);
      bar.style.width = `${length / view.k}px`;
      long.textContent = `${Number(length.toPrecision(3))} mm`;
    }

    function stop() { cancelAnimationFrame(glide); glide = 0; }
    function goto(target) {
      stop();
      const from = { ...view };
      if (still.matches) { view = target; draw(); return; }
      let begun = null;
      const tick = (now) => {
        begun ??= now;
        const share = Math.min((now - begun) / GLIDE, 1), s = share * share * (3 - 2 * share);
        view = {
          x: from.x + (target.x - from.x) * s,
          y: from.y + (target.y - from.y) * s,
          k: from.k * (target.k / from.k) ** s,
        };
        if (share === 1) view = target;
        draw();
        glide = share < 1 ? requestAnimationFrame(tick) : 0;
      };
      glide = requestAnimationFrame(tick);
    }
    function zoom(factor, px, py) { // about a point of the picture, px from its middle
      stop();
      const k = between(CLOSEST, view.k / factor, whole * 4);
      view = { x: view.x + px * (view.k - k), y: view.y + py * (view.k - k), k };
      later();
    }
    function pan(dx, dy) {
      stop();
      view = { ...view, x: view.x - dx * view.k, y: view.y - dy * view.k };
      later();
    }
    function from(event) {
      const place = svg.getBoundingClientRect();
      return [event.clientX - place.left - place.width / 2, event.clientY - place.top - place.height / 2];
    }

    // wheel, drag, two fingers
    const held = new Map();
    let moved = false;
    plate.addEventListener("wheel", (event) => {
      event.preventDefault();
      const lines = event.deltaMode === 1 ? 33 : 1;
      zoom(Math.exp(between(-300, -event.deltaY * lines, 300) * 0.0022), ...from(event));
    }, { passive: false });
    plate.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      if (!held.size) moved = false;
      held.set(event.pointerId, from(event));
    });
    plate.addEventListener("pointermove", (event) => {
      const now = from(event);
      spot.textContent = `x ${(lowX + view.x + now[0] * view.k).toFixed(1)} y ${(highY - view.y - now[1] * view.k).toFixed(1)}`;
      const last = held.get(event.pointerId);
      if (!last) return;
      if (!moved && Math.hypot(now[0] - last[0], now[1] - last[1]) < SLIP) return;
      moved = true;
      plate.setPointerCapture(event.pointerId);
      plate.classList.add("held");
      const other = [...held].find(([id]) => id !== event.pointerId)?.[1];
      held.set(event.pointerId, now);
      if (!other) { pan(now[0] - last[0], now[1] - last[1]); return; }
      pan((now[0] - last[0]) / 2, (now[1] - last[1]) / 2);
      const before = Math.hypot(last[0] - other[0], last[1] - other[1]), after = Math.hypot(now[0] - other[0], now[1] - other[1]);
      if (before > 1) zoom(after / before, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      plate.addEventListener(name, (event) => {
        held.delete(event.pointerId);
        if (!held.size) plate.classList.remove("held");
      });
    }
    plate.addEventListener("pointerleave", () => { spot.textContent = ""; });

    const acts = {
      in: () => zoom(STEP, 0, 0),
      out: () => zoom(1 / STEP, 0, 0),
      fit: () => goto(fit()),
    };
    const keys = {
      "+": acts.in, "=": acts.in, "-": acts.out, "0": acts.fit, Home: acts.fit,
      ArrowLeft: () => pan(PAN * size.width, 0), ArrowRight: () => pan(-PAN * size.width, 0),
      ArrowUp: () => pan(0, PAN * size.height), ArrowDown: () => pan(0, -PAN * size.height),
    };
    plate.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
    for (const button of article.querySelectorAll("[data-do]")) button.addEventListener("click", acts[button.dataset.do]);

    // a finding and its ring
    function mark(n) {
      for (const one of article.querySelectorAll(".picked")) { one.classList.remove("picked"); one.removeAttribute("aria-current"); }
      const row = article.querySelector(`.findings tr[data-n="${n}"]`);
      const ring = svg.querySelector(`.ring[data-n~="${n}"]`);
      row.classList.add("picked");
      row.setAttribute("aria-current", "true");
      ring.classList.add("picked");
      ring.parentNode.append(ring);
      return [row, ring];
    }
    function pick(n) {
      const [row, ring] = mark(n);
      const reach = Number(row.dataset.reach);
      const k = between(CLOSEST, reach / Math.min(size.width, size.height), whole);
      plate.scrollIntoView({ block: "nearest" });
      goto({ x: Number(ring.dataset.x), y: Number(ring.dataset.y), k });
      said.textContent = `finding ${n} in the middle of the picture`;
    }
    article.querySelector(".findings")?.addEventListener("click", (event) => {
      const row = event.target.closest("tr[data-n]");
      const marking = !event.target.closest("button") && String(getSelection()); // text is being marked, to copy it
      if (row && !marking) pick(row.dataset.n);
    });
    svg.addEventListener("click", (event) => {
      const ring = event.target.closest(".ring");
      if (!ring || moved) return;
      const numbers = ring.dataset.n.split(" ");
      const now = article.querySelector(".findings tr.picked")?.dataset.n;
      const [row] = mark(numbers[(numbers.indexOf(now) + 1) % numbers.length]);
      row.querySelector("button").focus({ preventScroll: true });
      row.scrollIntoView({ block: "nearest" });
    });

    let kept = null;
    function printing() {
      stop();
      kept = { view, size };
      size = PRINTED;
      view = { ...fit(), k: Math.max(width / size.width, height / size.height) };
      draw();
    }
    function printed() {
      if (!kept) return;
      ({ view, size } = kept);
      kept = null;
      draw();
    }
    new ResizeObserver(() => { if (!kept) measure(); }).observe(svg);
    measure();
    return { printing, printed };
  }

  const viewers = [...document.querySelectorAll("article")].filter((one) => one.querySelector(".plate")).map(viewer);
  addEventListener("beforeprint", () => { for (const one of viewers) one.printing(); });
  addEventListener("afterprint", () => { for (const one of viewers) one.printed(); });

  // the list of drawings follows the reader, and its rows lead to them
  const rows = new Map([...document.querySelectorAll("nav tbody tr")].map((row) => [row.querySelector("a").hash.slice(1), row]));
  for (const row of rows.values()) {
    row.addEventListener("click", (event) => { if (!event.target.closest("a")) row.querySelector("a").click(); });
  }
  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      for (const row of rows.values()) row.removeAttribute("aria-current");
      rows.get(entry.target.id)?.setAttribute("aria-current", "true");
    }
  }, { rootMargin: "-30% 0px -69% 0px" });
  for (const article of document.querySelectorAll("article")) seen.observe(article);
})();
