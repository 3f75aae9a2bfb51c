"use strict";
/* Narrows the list of types by what is typed and chosen. What is sought stands in the address behind the #. */
(() => {
  const form = document.getElementById("find"), list = document.getElementById("found");
  const said = document.getElementById("said"), more = document.getElementById("more");
  const FIELDS = ["name", "function", "base", "volts", "amps", "holds", "grade"], SHOWN = 120;

  const drop = text => text.replace(/[\s\-\/._()'"]+/g, "").toUpperCase();
  const each = (key, table) => Array.from(key, letter => table[letter] ?? letter).join("");
  const figures = key => key.replaceAll("O", "0").replaceAll("I", "1");
  /* Every way to write one name: as printed, as it sounds and as it looks in Latin letters, O and I for 0 and 1. */
  const keys = text => {
    const key = drop(text), all = new Set([key, figures(key)]);
    if (/[^\x00-\x7f]/.test(key)) {
      for (const latin of [each(key, CATALOGUE.sounds), each(key, CATALOGUE.looks)]) all.add(latin).add(figures(latin));
    }
    return [...all].filter(Boolean);
  };
  const digits = new Intl.Collator("en", { numeric: true });
  const types = CATALOGUE.types.map(([type, file, fn, base, heaters, held, grades, others]) => ({
    type, file: `type/${file || type}.html`, function: CATALOGUE.functions[fn] ?? "", base: CATALOGUE.bases[base] ?? "",
    heaters: heaters.reduce((all, x, i) => (i % 2 ? all.at(-1).push(x) : all.push([x]), all), []),
    held: held.reduce((all, x, i) => (i % 2 ? all.at(-1).push(x) : all.push([x]), all), []), grades,
    names: [{ name: type, near: false, keys: keys(type) }, ...others.split(" ").filter(Boolean).map(name => {
      const near = name.startsWith("~"), printed = near ? name.slice(1) : name;
      return { name: printed, near, keys: keys(printed) };
    })],
  })).sort((a, b) => digits.compare(a.type, b.type));

  /* How well a type's names fit: 0 its own name, 1 another, 2 a near one, 3 begins so, 4 holds it; else nothing. */
  const fit = (type, sought) => {
    let best = null;
    type.names.forEach((name, i) => {
      for (const key of name.keys) for (const q of sought) {
        const at = key === q ? (i === 0 ? 0 : name.near ? 2 : 1) : key.startsWith(q) ? 3 : q.length > 1 && key.includes(q) ? 4 : 9;
        const rank = at + (key === sought[0] ? -0.5 : 0); /* as it was typed before as it sounds */
        if (at < 9 && (!best || rank < best.rank)) best = { at, rank, name };
      }
    });
    return best;
  };
  const close = (value, sought) => value !== null && Math.abs(value / sought - 1) <= CATALOGUE.within;
  const number = text => { const n = parseFloat(text.replace(",", ".")); return n > 0 ? n : null; };
  const GRADES = { published: g => g.includes("p"), read: g => /[pq]/.test(g), sure: g => g && !g.includes("r"), recalled: g => g.includes("r") };
  const holds = (type, sought) => {
    const [kind, count] = sought.split(" "), at = CATALOGUE.kinds.indexOf(kind);
    return type.held.some(([i, n]) => i === at && n >= Number(count || 1));
  };

  const search = want => {
    const sought = keys(want.name), words = want.name.toLowerCase().split(/\s+/).filter(Boolean);
    const volts = number(want.volts), amps = number(want.amps), found = [];
    for (const type of types) {
      if (want.function && type.function !== want.function) continue;
      if (want.base && type.base !== want.base) continue;
      if (want.holds && !holds(type, want.holds)) continue;
      if (want.grade && !GRADES[want.grade]?.(type.grades)) continue;
      if ((volts || amps) && !type.heaters.some(([v, a]) => (!volts || close(v, volts)) && (!amps || close(a, amps)))) continue;
      let how = { at: 5, name: null };
      if (sought.length) {
        const text = `${type.function} ${type.base}`.toLowerCase();
        how = fit(type, sought) ?? (words.every(w => text.includes(w)) ? how : null);
        if (!how) continue;
      }
      found.push({ type, ...how });
    }
    return found.sort((a, b) => a.at - b.at);
  };

  const el = (tag, text, name) => { const e = document.createElement(tag); if (text) e.textContent = text; if (name) e.className = name; return e; };
  const heater = ([v, a]) => [v === null ? "" : `${v} V`, a === null ? "" : `${a} A`].join(" ").trim();
  const item = ({ type, name }) => {
    const li = el("li"), link = el("a", type.type);
    link.href = type.file;
    li.append(link, el("span", [type.function, type.base, type.heaters.map(heater).filter(Boolean).join(" or ")].filter(Boolean).join(", ") || "nothing but its name is known"));
    const others = type.names.slice(1).filter(n => !n.near).map(n => n.name);
    const shown = name && name.name !== type.type ? `printed ${name.name}${name.near ? ", near: some figure differs" : ""}` : others.slice(0, 4).join(", ");
    if (shown) li.append(el("small", shown));
    return li;
  };
  const say = (found, want) => {
    const exact = found.filter(f => f.at <= 2);
    if (exact.length > 1 && exact[0].at > 0) return `${want.name.trim()} was printed on ${exact.length} types: look which is yours.`;
    if (!found.length) return want.name.trim() ? `No type fits. Look ${want.name.trim()} up among all names below, or take a filter away.` : "No type fits: take a filter away.";
    return found.length === 1 ? "1 type" : `${found.length} types`;
  };
  let all = false;
  const show = () => {
    const want = read(), found = search(want), shown = all ? found : found.slice(0, SHOWN);
    list.replaceChildren(...shown.map(item));
    said.textContent = say(found, want);
    more.hidden = shown.length === found.length;
    more.textContent = `Show the other ${found.length - shown.length}`;
  };

  const read = () => Object.fromEntries(FIELDS.map(name => [name, form.elements[name].value]));
  const address = () => {
    const full = Object.entries(read()).filter(([, value]) => value.trim());
    return "#" + new URLSearchParams(full.map(([k, v]) => [k, v.trim()])).toString();
  };
  const restore = () => {
    const state = new URLSearchParams(location.hash.slice(1));
    for (const name of FIELDS) form.elements[name].value = state.get(name) ?? "";
    all = false;
    show();
  };
  const keep = push => {
    const now = address();
    if (now !== (location.hash || "#")) history[push ? "pushState" : "replaceState"](null, "", now);
  };

  form.addEventListener("input", event => { all = false; keep(event.target.tagName === "SELECT"); show(); });
  form.addEventListener("submit", event => event.preventDefault());
  form.addEventListener("reset", event => { event.preventDefault(); for (const name of FIELDS) form.elements[name].value = ""; keep(true); show(); form.elements.name.focus(); });
  more.addEventListener("click", () => { const at = list.children.length; all = true; show(); list.children[at].querySelector("a").focus(); });
  window.addEventListener("popstate", restore);
  document.addEventListener("keydown", event => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const links = [...list.querySelectorAll("a")], at = links.indexOf(document.activeElement);
    if (event.key === "Enter" && document.activeElement.form === form && document.activeElement.tagName === "INPUT") { event.preventDefault(); list.querySelector("a")?.click(); }
    const typing = document.activeElement === form.elements.name;
    if (event.key === "/" && !/^(INPUT|SELECT)$/.test(document.activeElement.tagName)) { event.preventDefault(); form.elements.name.select(); }
    else if (event.key === "ArrowDown" && (typing || at >= 0)) { event.preventDefault(); links[at + 1]?.focus(); }
    else if (event.key === "ArrowUp" && at >= 0) { event.preventDefault(); at ? links[at - 1].focus() : form.elements.name.focus(); }
    else if (event.key === "Escape" && (typing || at >= 0)) { form.elements.name.value = ""; keep(false); show(); form.elements.name.focus(); }
  });

  form.hidden = false;
  document.getElementById("results").hidden = false;
  restore();
})();
