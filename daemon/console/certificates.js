// The certificates of one run: drafted, looked at, signed by somebody else.

import {ask, askReason} from "./dialogs.js";
import {button, buttons, linkBeside, make, table} from "./dom.js";

const STATED = [
  ["customer", "Customer"], ["customer_address", "Address, parts separated by commas"],
  ["customer_country", "Country, two letters"], ["order", "Order"], ["received", "Received, as 2026-01-15"],
  ["condition", "Condition when received"], ["worked_by", "Who worked the balance"]
];

/// `findings`: what the folder of the certificates and the journal do not agree about. `names`: the field for the name
/// of who decides, where nobody logs in.
export function certificateParts(run, {certificates = [], findings = []}, {mayPress, names}, send) {
  const rows = run.instruments.map(({name}) => {
    const one = certificates.find((other) => other.instrument === name && other.runs.includes(run.id));
    const draft = (more, said) => send("draft", {runs: one?.runs ?? [run.id], instrument: name, ...more}, said);
    const number = one?.certificate;
    const isDraft = one?.state === "draft";
    return {
      cells: [
        name, number ?? "none",
        make("div", {text: one ? isDraft ? "draft" : `signed by ${one.signed_by}` : ""},
          one?.superseded_by && make("p", {text: `superseded by ${one.superseded_by}`}),
          one?.replaces && make("p", {text: `${isDraft ? "amends" : "supersedes"} ${one.replaces}`}),
          make("ul", {}, (one?.lacking ?? []).map((finding) => make("li", {text: finding.words},
            mayPress && finding.overridable && override(number, finding, names, send)))),
          make("ul", {}, (one?.overridden ?? []).map(({code, subject, by, because}) =>
            make("li", {text: `overridden by ${by}: ${code} ${subject}: ${because}`})))),
        buttons((one?.documents ??
          []).map((file) => linkBeside(`/api/certificates/${number}/${file}`, file.slice(number.length + 1)))),
        buttons(mayPress && (!one || isDraft) &&
            button(one ? "Draft again" : "Draft",
              () => draft(
                one?.replaces ? {replaces: one.replaces, reason: one.amended_because} : {}, `${name} is drafted`)),
          mayPress && one && !isDraft && !one.superseded_by &&
            button("Amend",
              async () => {
                const given = await askReason(`Amend ${number}`, "A new certificate names this one.", "Draft it");
                if (given) draft({replaces: number, ...given}, `${number} is amended`);
              }),
          (one?.expired ?? [])
            .map(({run: id, certificate}) => button(`Allow ${certificate}`,
                   async () => {
                     const given = await askReason(
                       `Allow ${certificate}`, "It had expired. The reason is printed.", "Allow it", names);
                     if (given)
                       send("allow_expiry", {run: id, certificate, ...given}, `${certificate} is allowed`);
                   })),
          isDraft && one.lacking.length === 0 &&
            button("Sign",
              async () => {
                const given =
                  await ask(`Sign ${number}`, "You have read it and did not work at this run.", "Sign", names);
                if (given) send("sign", {certificate: number, ...given}, `${number} is signed`);
              }))
      ]
    };
  });
  return [
    make("h2", {text: "Certificates"}),
    findings.length > 0 && make("ul", {}, findings.map(({words}) => make("li", {text: words}))),
    buttons(button("State customer and order", () => particulars(run, send))),
    table("Certificates of this run", ["Instrument", "Number", "State", "Documents", "Next"], rows)
  ];
}

function override(certificate, {code, subject, run, words}, names, send) {
  return buttons(button("Override", async () => {
    const given = await askReason("Override this finding", `${words}. The reason is printed.`, "Override it", names);
    if (given) send("override", {certificate, code, subject, run: run ?? "", ...given}, "the override");
  }));
}

async function particulars(run, send) {
  const fields = STATED.map(([key, label]) => ({key, label, optional: true, most: 500}));
  const given = await ask(`For the certificates of run ${run.id}`, "", "State it", fields);
  if (!given) return;
  const body = {run: run.id};
  for (const [key, text] of Object.entries(given))
    if (text !== "") body[key] = key === "customer_address" ? text.split(/\s*,\s*/) : text;
  send("particulars", body, "what the certificates say");
}
