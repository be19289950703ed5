// On a phone the one who is signed in comes first and the others are folded under their names; on a desk all are open.
const narrow = matchMedia("(max-width: 59.99rem)");
const fold = () => {
  for (const bench of document.querySelectorAll("details.bench")) bench.open = !narrow.matches || !("fold" in bench.dataset);
};
narrow.addEventListener("change", fold);
fold();
// A link to somebody's bench opens it.
document.addEventListener("click", (event) => {
  const link = event.target instanceof Element && event.target.closest('a[href^="#person-"]');
  const bench = link && document.querySelector(link.getAttribute("href"))?.querySelector("details.bench");
  if (bench) bench.open = true;
});
