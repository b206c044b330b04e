// Two helps for naming a place, both of which the form works without: the
// phone's position, matched against the township lines in this browser, and the
// county's map shown on the form. A position is only asked for when the button
// is pressed; it is kept in no variable that outlives the match, and no request
// is made of it: what leaves is the number of a township, and its county's.
"use strict";

const base = document.documentElement.dataset.base ?? ""; // of addresses in this page's language

// toMeters is the transverse Mercator projection of a zone on the WGS 84
// ellipsoid by Krüger's series in the third flattening (1912), exact to
// millimeters within a zone.
function toMeters(lon, lat, zone, south) {
  const a = 6378137, f = 1 / 298.257223563, n = f / (2 - f), rad = Math.PI / 180;
  const A = a / (1 + n) * (1 + n * n / 4 + n ** 4 / 64);
  const series = [n / 2 - 2 * n * n / 3 + 5 * n ** 3 / 16, 13 * n * n / 48 - 3 * n ** 3 / 5, 61 * n ** 3 / 240];
  const phi = lat * rad, lambda = (lon - (6 * zone - 183)) * rad, c = 2 * Math.sqrt(n) / (1 + n);
  const t = Math.sinh(Math.atanh(Math.sin(phi)) - c * Math.atanh(c * Math.sin(phi)));
  const xi = Math.atan2(t, Math.cos(lambda)), eta = Math.asinh(Math.sin(lambda) / Math.hypot(t, Math.cos(lambda)));
  let x = eta, y = xi;
  series.forEach((s, i) => {
    const k = 2 * (i + 1);
    x += s * Math.cos(k * xi) * Math.sinh(k * eta);
    y += s * Math.sin(k * xi) * Math.cosh(k * eta);
  });
  return [500000 + 0.9996 * A * x, (south ? 10000000 : 0) + 0.9996 * A * y];
}

// readOutlines undoes the steps that rings are sent in.
function readOutlines(sent) {
  const townships = sent.townships.map(([id, county, rings]) => {
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    const whole = rings.map((steps) => {
      const ring = [];
      let x = 0, y = 0;
      for (let i = 0; i + 1 < steps.length; i += 2) {
        x += steps[i]; y += steps[i + 1];
        ring.push([x, y]);
        box[0] = Math.min(box[0], x); box[1] = Math.min(box[1], y);
        box[2] = Math.max(box[2], x); box[3] = Math.max(box[3], y);
      }
      return ring;
    });
    return { id: String(id), county: String(county), rings: whole, box };
  });
  return { zone: sent.zone, south: sent.south, townships };
}

// look tells whether a point is inside of rings, and how far it is from the
// nearest of their lines.
function look(rings, [x, y]) {
  let inside = false, far = Infinity;
  for (const ring of rings) {
    for (let i = 0; i + 1 < ring.length; i++) {
      const [x0, y0] = ring[i], [x1, y1] = ring[i + 1], dx = x1 - x0, dy = y1 - y0;
      if ((y0 > y) !== (y1 > y) && x < x0 + (y - y0) / dy * dx) inside = !inside;
      const s = Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy || 1)));
      far = Math.min(far, Math.hypot(x - x0 - s * dx, y - y0 - s * dy));
    }
  }
  return { inside, far };
}

const drawn = 60;    // meters by which lines as drawn may be off
const tooRough = 5000; // meters of accuracy beyond which there is nothing to match

// match lists the townships that the circle of accuracy around a position
// reaches. sure: it lies within one of them, away from every line.
function match(outlines, lon, lat, accuracy) {
  const at = toMeters(lon, lat, outlines.zone, outlines.south), reach = Math.max(accuracy, 1) + drawn;
  const found = [];
  for (const t of outlines.townships) {
    const [west, south, east, north] = t.box;
    if (at[0] < west - reach || at[0] > east + reach || at[1] < south - reach || at[1] > north + reach) continue;
    const { inside, far } = look(t.rings, at);
    if (inside || far <= reach) found.push({ id: t.id, county: t.county, inside, far });
  }
  found.sort((a, b) => b.inside - a.inside || a.far - b.far);
  return { found, sure: found.length === 1 && found[0].inside && found[0].far > reach };
}

let outlinesComing = null;
function outlinesOf(address) {
  outlinesComing ??= fetch(address).then((a) => {
    if (!a.ok) throw new Error(a.status);
    return a.json();
  }).then(readOutlines).catch((e) => { outlinesComing = null; throw e; });
  return outlinesComing;
}

// block is one bag's part of the form.
function block(ways) {
  const i = ways.dataset.place, field = (name) => document.getElementById(`bag.${i}.${name}`);
  const county = field("county"), township = field("township"), said = ways.querySelector("[role=status]");
  const asked = ways.querySelector(".place-asked"), here = ways.querySelector(".place-map-here");
  const lists = new Map(); // the townships of a county, as options
  async function options(id) {
    if (!lists.has(id)) {
      const answer = await fetch(base + "/send/townships?county=" + encodeURIComponent(id));
      if (!answer.ok) throw new Error(answer.status);
      lists.set(id, await answer.text()); // escaped by the server
    }
    return lists.get(id);
  }
  async function name(place) {
    const list = document.createElement("select");
    list.innerHTML = await options(place.county);
    const town = [...list.options].find((o) => o.value === place.id);
    const where = [...county.options].find((o) => o.value === place.county);
    return [town, where].filter(Boolean).map((o) => o.textContent.trim()).join(", ");
  }
  async function choose(place, sentence) {
    township.innerHTML = await options(place.county);
    county.value = place.county;
    township.value = place.id;
    asked.hidden = true; here.hidden = true;
    asked.replaceChildren(); here.replaceChildren();
    said.textContent = sentence.replace("{place}", await name(place));
  }
  return { county, said, asked, here, choose, name };
}

// ask offers the townships that a position may be in as buttons.
async function ask(b, places, sentence, done) {
  b.asked.replaceChildren();
  for (const place of places.slice(0, 6)) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "second";
    button.textContent = await b.name(place);
    button.addEventListener("click", () => b.choose(place, done));
    b.asked.append(button);
  }
  b.asked.hidden = false;
  b.said.textContent = sentence;
  b.asked.querySelector("button").focus();
}

async function locate(button, ways, b) {
  const text = button.dataset;
  const give = (name, key, value) => text[name].replace("{" + key + "}", value);
  button.disabled = true;
  b.asked.hidden = true;
  b.said.textContent = text.looking;
  try {
    const { latitude, longitude, accuracy } = (await new Promise((yes, no) => navigator.geolocation.getCurrentPosition(
      yes, no, { enableHighAccuracy: true, timeout: 20000, maximumAge: 0 }))).coords;
    const outlines = await outlinesOf(ways.dataset.outlines);
    if (accuracy > tooRough) {
      b.said.textContent = give("rough", "n", Math.ceil(accuracy / 1609));
      return;
    }
    const { found, sure } = match(outlines, longitude, latitude, accuracy);
    if (found.length === 0) b.said.textContent = text.outside;
    else if (sure) await b.choose(found[0], text.set);
    else await ask(b, found, give("edge", "n", Math.max(10, Math.ceil(accuracy * 3.2808 / 10) * 10)), text.set);
  } catch (e) {
    b.said.textContent = e && e.code === 1 ? text.denied : text.failed;
  } finally {
    button.disabled = false;
  }
}

// openMap shows the chosen county's map on the form. If it cannot be had, the form
// stays as it is and says so: leaving it would lose what was typed.
async function openMap(link, b) {
  if (!b.here.hidden) { b.here.hidden = true; b.here.replaceChildren(); return; }
  try {
    const answer = await fetch(base + "/send/map?part=map&county=" + encodeURIComponent(b.county.value));
    if (!answer.ok) throw new Error(answer.status);
    b.here.innerHTML = await answer.text(); // escaped by the server
    b.here.hidden = false;
    b.here.querySelector("a")?.focus();
    b.said.textContent = "";
  } catch { b.said.textContent = link.dataset.failed; }
}

for (const ways of document.querySelectorAll(".place-ways")) {
  const b = block(ways), button = ways.querySelector("[data-locate]"), link = ways.querySelector("[data-pick-map]");
  if (button && "geolocation" in navigator) {
    button.hidden = false;
    for (const hint of ways.querySelectorAll("[data-locate-hint]")) hint.hidden = false;
    button.addEventListener("click", () => locate(button, ways, b));
  }
  link?.addEventListener("click", (e) => {
    if (!b.county.value) return;
    e.preventDefault();
    openMap(link, b);
  });
  if (link) b.here.addEventListener("click", (e) => {
    const t = e.target.closest("[data-township]");
    if (!t) return;
    e.preventDefault();
    b.choose({ id: t.dataset.township, county: t.dataset.county }, link.dataset.set);
    link.focus();
  });
}
