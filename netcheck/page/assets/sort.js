"use strict";
// Tables that sort by a column: numbers by size, texts by letter, empty cells last. Fixed rows stay where they are.
(() => {
  const plain = new Intl.Collator("en", { numeric: false });

  function compare(one, other) {
    if (one === other) return 0;
    if (one === "") return 1;
    if (other === "") return -1;
    const a = Number(one), b = Number(other);
    return Number.isNaN(a) || Number.isNaN(b) ? plain.compare(one, other) : a - b;
  }

  for (const table of document.querySelectorAll("table.sortable")) {
    const heads = [...table.tHead.rows[0].cells];
    const body = table.tBodies[0];
    heads.forEach((head, column) => {
      head.querySelector("button.sort")?.addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        for (const each of heads) each.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const rows = [...body.rows];
        const places = rows.map((row, place) => place).filter((place) => !rows[place].classList.contains("fixed"));
        const key = (row) => row.cells[column].dataset.sort ?? "";
        const sorted = places.map((place) => rows[place]).sort((a, b) => {
          if (key(a) === "" || key(b) === "") return compare(key(a), key(b));
          return down ? compare(key(b), key(a)) : compare(key(a), key(b));
        });
        const order = [...rows];
        places.forEach((place, number) => { order[place] = sorted[number]; });
        body.append(...order);
      });
    });
  }
})();
