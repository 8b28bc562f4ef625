// Asks the program for a change, and brings back its answer. All pages with scripts use it:
//   const answer = await trackgolf.send(path, fields);
// fields: an object of texts, a FormData, or none to only look. The answer has `status` (0: nobody answered), `data`
// (JSON, or null) and `faults` (lines for a person, empty if all went well). What the program says is shown as text
// only: textContent, never innerHTML.
(() => {
  "use strict";
  const held = document.querySelector('input[name="form_token"]');
  let token = held ? held.value : "";

  const ask = async (path, options) => {
    const headers = { Accept: "application/json" };
    const given = await fetch(path, { ...options, headers, credentials: "same-origin", redirect: "error" });
    const json = (given.headers.get("Content-Type") || "").startsWith("application/json");
    return { status: given.status, data: json ? await given.json() : null };
  };

  // After a new start of the program neither the cookie nor the token of this page holds; a look brings both.
  const renew = async () => {
    const given = await ask("/token");
    if (given.status !== 200) return false;
    token = given.data.form_token;
    for (const field of document.querySelectorAll('input[name="form_token"]')) field.value = token;
    return true;
  };

  const form = (fields) => {
    const body = fields instanceof FormData ? fields : new FormData();
    if (!(fields instanceof FormData)) {
      for (const [name, value] of Object.entries(fields)) body.set(name, value);
    }
    body.set("form_token", token);
    return body;
  };

  const send = async (path, fields) => {
    const once = () => ask(path, fields ? { method: "POST", body: form(fields) } : {});
    let answer;
    try {
      answer = await once();
      if (answer.status === 403 && fields && (await renew())) answer = await once();
    } catch {
      return { status: 0, data: null, faults: ["The program does not answer. Is it still running?"] };
    }
    let faults = [];
    if (answer.status === 401) faults = ["The program was started anew. Open its first page in another window and say the token; then do it again here."];
    else if (answer.status >= 400) faults = answer.data?.faults ?? ["That did not work."];
    return { ...answer, faults };
  };

  window.trackgolf = Object.freeze({ send });
})();
