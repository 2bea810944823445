/* SPDX-License-Identifier: GPL-3.0-or-later */
const heatsim = (() => {
  const prefixes = { "-12": "p", "-9": "n", "-6": "µ", "-3": "m", 0: "", 3: "k", 6: "M", 9: "G" };
  const exponent = (size, [least, greatest]) =>
    size > 0 ? Math.min(Math.max(3 * Math.floor(Math.log10(size * 1.0000001) / 3), least), greatest) : Math.max(0, least);
  const written = (value, decimals, power, unit) => {
    const text = (value / 10 ** power).toFixed(Math.min(Math.max(decimals, 0), 12)).replace("-", "−");
    return text.replace(/^−(0(\.0*)?)$/, "$1") + (unit === "%" || prefixes[power] + unit ? " " : "") + prefixes[power] + unit;
  };
  const reading = (value, unit, powers, digits) => {
    if (!Number.isFinite(value)) return "–";
    const rounded = Number(value.toPrecision(digits)), power = exponent(Math.abs(rounded), powers);
    const order = rounded ? Math.floor(Math.log10(Math.abs(rounded)) - power + 1e-9) : 0;
    return written(rounded, rounded ? digits - 1 - order : 0, power, unit);
  };
  const tick = (value, ticks, unit, powers) => {
    const power = exponent(Math.max(...ticks.map(Math.abs)), powers);
    const step = ticks.length > 1 ? Math.abs(ticks[1] - ticks[0]) / 10 ** power : 1;
    return written(value, -Math.floor(Math.log10(step) + 1e-6), power, unit);
  };
  return { reading, tick };
})();

/* Each figure is drawn when it comes near, in the colours of the page, and anew when these change. */
addEventListener("DOMContentLoaded", () => {
  const page = document.documentElement, places = document.querySelectorAll(".zoomable");
  page.classList.add("zooms");
  const draw = (place) => {
    const colours = getComputedStyle(page), plot = place.querySelector(".plot");
    let text = place.querySelector("script").textContent;
    text = text.replace(/var\((--\w+)\)/g, (_, name) => colours.getPropertyValue(name).trim());
    if (matchMedia("(pointer: coarse)").matches) text = text.replace(/"active_drag":\{"id":"p\d+"\}/g, '"active_drag":null');
    plot.replaceChildren();
    place.drawn = Bokeh.embed.embed_item(JSON.parse(text), plot);
  };
  const near = new IntersectionObserver((seen) => seen.forEach((one) => {
    if (!one.isIntersecting) return;
    near.unobserve(one.target);
    draw(one.target);
  }), { rootMargin: "800px" });
  places.forEach((place) => near.observe(place));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => places.forEach((place) => place.drawn && draw(place)));
});
