// Draws the page's charts and lets its selects choose what they, and the filtered lists, show.
// Runs inside a function: the chart bundle leaves one-letter names in the global scope.
(() => {
  "use strict";
  const page = JSON.parse(document.getElementById("page-data").textContent);
  const shared = window.levelholdShared || {};
  const specs = window.levelholdCharts || {};
  const views = [];

  const objects = ({ columns, rows }) =>
    rows.map((row) => Object.fromEntries(columns.map((name, i) => [name, row[i]])));

  // A dataset is the page's own, or a part of one that all pages share.
  const rowsOf = (source) => {
    if (typeof source === "string") return objects(page.datasets[source]);
    const where = Object.entries(source.where || {});
    return objects(shared[source.shared] || { columns: [], rows: [] })
      .filter((row) => where.every(([name, value]) => row[name] === value));
  };

  const choices = () => {
    const chosen = {};
    for (const select of document.querySelectorAll("select[data-choice]")) {
      const name = select.dataset.choice;
      chosen[name] = name === "weeks" ? Number(select.value) : select.value;
      const option = select.selectedOptions[0];
      for (const [key, value] of Object.entries(option ? option.dataset : {})) {
        chosen[`${name}_${key}`] = value;
      }
    }
    return chosen;
  };

  const draw = async (entry) => {
    const spec = structuredClone(specs[entry.chart]);
    for (const data of spec.data) {
      if (data.name in entry.rows) data.values = rowsOf(entry.rows[data.name]);
    }
    const first = { ...choices(), ...entry.choices };
    for (const signal of spec.signals) {
      if (signal.name in first) signal.value = first[signal.name];
    }
    const place = document.getElementById(entry.id);
    // Level 1 tells errors only: a layer without rows is no fault.
    const options = { mode: "vega", renderer: "svg", ast: true, actions: false, logLevel: 1 };
    const { view } = await vegaEmbed(place, spec, options);
    const names = spec.signals.map((signal) => signal.name);
    views.push({ view, place, height: view.height(), fixed: entry.choices, names, by: entry.by, told: entry.told });
    place.dataset.drawn = "yes";
  };

  const fitWidth = async ({ view, place }) => {
    if (place.clientWidth && view.signal("width") !== place.clientWidth) await view.signal("width", place.clientWidth).runAsync();
  };

  // What stands above a chart depends on what is chosen; a panel without marks is not shown.
  const tellCharts = async (chosen) => {
    for (const one of views) {
      const told = document.getElementById(`${one.place.id}-told`);
      if (told) told.textContent = one.told[one.by.map((name) => chosen[name]).join("/")] || "";
      const panel = one.place.closest(".panel");
      if (!panel) continue;
      panel.hidden = !one.place.querySelector(".mark-symbol.role-mark path");
      if (!panel.hidden) await fitWidth(one);
    }
    for (const panels of document.querySelectorAll(".panels")) {
      panels.querySelector(".nothing").hidden = Boolean(panels.querySelector(".panel:not([hidden])"));
    }
    for (const words of document.querySelectorAll("[data-only-aspect]")) {
      words.hidden = words.dataset.onlyAspect !== chosen.aspect;
    }
  };

  // A list says itself which choices it obeys: each of its rows carries them as data.
  const showRows = (chosen) => {
    for (const list of document.querySelectorAll("[data-filtered]")) {
      const names = list.dataset.filtered.split(" ");
      let shown = 0;
      for (const row of list.children) {
        const fits = names.every((name) => {
          const want = chosen[name];
          if (want === undefined || want === "all") return true;
          if (name === "weeks") return Number(row.dataset.weeks) < want;
          return row.dataset[name] === undefined || row.dataset[name].split("|").includes(want);
        });
        row.hidden = !fits;
        if (fits) shown += 1;
      }
      list.toggleAttribute("data-empty", shown === 0 && list.children.length > 0);
      const count = list.id && document.querySelector(`[data-count-of="${list.id}"]`);
      if (count) count.textContent = `Shown: ${shown} of ${list.children.length}`;
    }
  };

  // A command that a page offers for what is chosen comes with the option.
  const tellCommands = (chosen) => {
    for (const place of document.querySelectorAll("[data-tells]")) {
      const command = chosen[place.dataset.tells];
      if (command) place.querySelector("code").textContent = command;
    }
  };

  const update = async () => {
    const chosen = choices();
    showRows(chosen);
    tellCommands(chosen);
    for (const { view, names, fixed } of views) {
      for (const name of names) {
        if (name in chosen && !(name in fixed)) view.signal(name, chosen[name]);
      }
      await view.runAsync();
    }
    await tellCharts(chosen);
    document.documentElement.dataset.updated = String(Number(document.documentElement.dataset.updated || 0) + 1);
  };

  // Paper is narrower than a screen: charts are drawn anew to fit, small ones side by side.
  const toPaper = () => {
    document.documentElement.classList.add("paper");
    for (const { view, place } of views) {
      const height = Number(place.dataset.paperHeight);
      if (height) view.height(height);
      if (place.clientWidth) view.signal("width", place.clientWidth);
      view.run();
    }
  };

  const toScreen = () => {
    document.documentElement.classList.remove("paper");
    for (const { view, place, height } of views) {
      if (place.clientWidth) view.signal("width", place.clientWidth);
      view.height(height).run();
    }
  };

  // An address that ends in #trace-... names the maneuver to draw.
  const showTraces = () => document.getElementById("traces").scrollIntoView();

  const chooseFromAddress = () => {
    const select = document.querySelector('select[data-choice="maneuver"]');
    const wanted = decodeURIComponent(location.hash).replace(/^#trace-/, "");
    const isThere = select && [...select.options].some((option) => option.value === wanted);
    if (isThere) {
      select.value = wanted;
      showTraces();
    }
    return isThere;
  };

  const tellNight = () => {
    for (const place of document.querySelectorAll("[data-night]")) {
      const told = (window.levelholdNight || {})[place.dataset.night];
      if (told) place.textContent = told;
    }
  };

  // On a narrow screen a row is shown as a block, each cell under the heading of its column, link and all;
  // the roles keep rows and cells what they are for a screen reader, whatever the style makes of them.
  const NARROW = window.matchMedia("(max-width: 40rem)");
  const LENGTHY = 30;

  const headingsOf = (head) => {
    const columns = [];
    const taken = [];
    [...head.rows].forEach((row, y) => {
      let x = 0;
      for (const cell of row.cells) {
        while ((taken[x] || 0) > y) x += 1;
        for (let i = 0; i < cell.colSpan; i += 1, x += 1) {
          columns[x] = [...(columns[x] || []), cell];
          taken[x] = y + cell.rowSpan;
        }
      }
    });
    return columns;
  };

  const labelOf = (headings) => {
    const label = document.createElement("span");
    label.className = "label";
    headings.forEach((heading, i) => {
      if (i) label.append(", ");
      label.append(...[...heading.childNodes].map((node) => node.cloneNode(true)));
    });
    return label;
  };

  const stack = (table) => {
    const columns = headingsOf(table.tHead);
    const rows = [...table.tBodies].flatMap((body) => [...body.rows]);
    const isLong = (cell) => cell.textContent.length > LENGTHY;
    const lengthy = columns.map((_, i) => 3 * rows.filter((row) => isLong(row.cells[i])).length > rows.length);
    for (const part of [table.tHead, ...table.tBodies]) part.setAttribute("role", "rowgroup");
    for (const heading of table.tHead.querySelectorAll("th")) heading.setAttribute("role", "columnheader");
    for (const row of table.rows) row.setAttribute("role", "row");
    for (const row of rows) {
      [...row.cells].forEach((cell, i) => {
        cell.setAttribute("role", cell.tagName === "TH" ? "rowheader" : "cell");
        if (cell.tagName === "TH") return;
        cell.classList.toggle("bare", !cell.textContent.trim());
        cell.classList.toggle("lengthy", lengthy[i] || isLong(cell));
        cell.prepend(labelOf(columns[i]));
      });
    }
    table.classList.add("stacked");
  };

  const stackTables = () => {
    if (!NARROW.matches) return;
    for (const table of document.querySelectorAll(".scroll > table:not(.stacked)")) stack(table);
  };

  const start = async () => {
    tellNight();
    NARROW.addEventListener("change", stackTables);
    stackTables();
    document.addEventListener("change", (event) => {
      if (event.target.matches("select[data-choice]")) update();
    });
    window.addEventListener("hashchange", () => { if (chooseFromAddress()) update(); });
    const isChosen = chooseFromAddress();
    window.addEventListener("beforeprint", toPaper);
    window.addEventListener("afterprint", toScreen);
    showRows(choices());
    tellCommands(choices());
    for (const entry of page.charts) await draw(entry);
    await tellCharts(choices());
    if (isChosen) showTraces();
    document.documentElement.dataset.ready = "yes";
  };

  start();
})();
