"use strict";
// The work order: ticks and values stay in this browser, under the place of this file and the job that it tells.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const name = ["netcheck", location.pathname, ...data.store].join("|");
  const fields = [...document.querySelectorAll("[data-keep]")];
  const boxes = document.querySelectorAll(".step > input[type=checkbox]");

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(name)) ?? {};
    } catch {
      return {};
    }
  }

  function keep() {
    const values = {};
    for (const field of fields) {
      const value = field.type === "checkbox" ? field.checked : field.value;
      if (value) values[field.dataset.keep] = value;
    }
    try {
      localStorage.setItem(name, JSON.stringify(values));
    } catch {
      document.getElementById("kept").textContent = "This browser does not keep them: print the page before you close it.";
    }
    tell();
  }

  function tell() {
    const done = [...boxes].filter((box) => box.checked).length;
    document.getElementById("progress").textContent = `${done} of ${boxes.length} ticked`;
  }

  const values = kept();
  for (const field of fields) {
    const value = values[field.dataset.keep];
    if (field.type === "checkbox") field.checked = value === true;
    else field.value = typeof value === "string" ? value : "";
    field.addEventListener("input", keep);
  }
  document.getElementById("clear").addEventListener("click", () => {
    if (!confirm("Clear all ticks and values of this work order?")) return;
    for (const field of fields) {
      field.checked = false;
      if (field.type !== "checkbox") field.value = "";
    }
    keep();
  });
  tell();

  for (const button of document.querySelectorAll("[data-alone]")) {
    button.addEventListener("click", () => {
      const section = document.getElementById(button.dataset.alone);
      section.classList.add("alone");
      document.body.classList.add("one-sheet");
      window.print();
      document.body.classList.remove("one-sheet");
      section.classList.remove("alone");
    });
  }
})();
