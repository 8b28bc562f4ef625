"use strict";
// Looks again every second or two while an upload is worked on, and shows what is new.

function show(page) {
  for (const id of ["job-head", "job-said", "job-list"]) {
    const now = document.getElementById(id);
    const next = page.getElementById(id);
    if (now && next && !now.isEqualNode(next)) {
      now.replaceChildren(...next.cloneNode(true).childNodes);
    }
  }
  document.title = page.title;
  return page.getElementById("job").dataset.going === "yes";
}

async function again() {
  let going = true;
  try {
    const answer = await fetch(location.href, { credentials: "same-origin" });
    if (answer.ok) {
      going = show(new DOMParser().parseFromString(await answer.text(), "text/html"));
    }
  } catch {
    // The page was stopped, and may be started again.
  }
  if (going) {
    setTimeout(again, 1500);
  }
}

setTimeout(again, 1000);
