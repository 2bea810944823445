// What the theme leaves out for those who read by keyboard or by ear: wide blocks can be scrolled with the keys, headings of the
// list of pages have a level, and the two lists beside the text have names.
document.addEventListener("DOMContentLoaded", () => {
  for (const block of document.querySelectorAll("pre, .table-wrapper")) block.tabIndex = 0;
  for (const caption of document.querySelectorAll("p.caption[role=heading]")) caption.setAttribute("aria-level", "2");
  document.querySelector("aside.sidebar-drawer")?.setAttribute("aria-label", "pages");
  document.querySelector("aside.toc-drawer")?.setAttribute("aria-label", "on this page");
});
