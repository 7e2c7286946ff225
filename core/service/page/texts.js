// SPDX-License-Identifier: Apache-2.0
// Every text of the page, in both languages, in one table; a row is one text. `<name>` stands for a value that is put
// in. What comes from a sequence, a model sheet or the daemon is not here: it is shown as it is written there.

const table = {
  "skip": {en: "To the content", de: "Zum Inhalt"},
  "nav": {en: "Pages", de: "Seiten"},
  "nav.bench": {en: "Bench", de: "Messplatz"},
  "nav.queue": {en: "Jobs", de: "Aufträge"},
  "nav.records": {en: "Records", de: "Messungen"},
  "nav.workshop": {en: "Workshop", de: "Werkstatt"},
  "nav.benches": {en: "Instruments", de: "Messgeräte"},
  "nav.rehearsal": {en: "Rehearsal", de: "Probelauf"},
  "nav.settings": {en: "Settings", de: "Einstellungen"},
  "nav.access": {en: "Access", de: "Zugang"},

  "sign_in": {en: "Sign in", de: "Anmelden"},
  "sign_in.title": {en: "Sign in", de: "Anmeldung"},
  "sign_in.why": {en: "This daemon wants to know who is there.", de: "Dieser Dienst will wissen, wer da ist."},
  "sign_in.ended": {
    en: "You are signed out. Sign in again to go on where you were.",
    de: "Sie sind abgemeldet. Nach der Anmeldung geht es hier weiter.",
  },
  "sign_in.name": {en: "Name", de: "Name"},
  "sign_in.password": {en: "Password", de: "Passwort"},
  "sign_in.wrong": {en: "Name or password is wrong.", de: "Name oder Passwort ist falsch."},
  "sign_in.later": {en: "Not yet:", de: "Noch nicht:"},
  "sign_out": {en: "Sign out", de: "Abmelden"},

  "access.signed_in": {en: "Signed in as <user>", de: "Angemeldet als <user>"},
  "access.not_here": {
    en: "You may not see this page. Whoever administers this daemon can change that.",
    de: "Diese Seite dürfen Sie nicht sehen. Wer diesen Dienst verwaltet, kann das ändern.",
  },
  "access.not_operate": {
    en: "You may look, not answer: you have no right to operate.",
    de: "Sie dürfen zusehen, nicht antworten: Das Recht zum Bedienen fehlt Ihnen.",
  },
  "access.elsewhere": {
    en: "Only a person at <bench> answers: this screen stands elsewhere.",
    de: "Nur wer an <bench> steht, antwortet: Dieser Bildschirm steht woanders.",
  },

  "rights": {en: "Rights", de: "Rechte"},
  "right.look": {en: "look", de: "ansehen"},
  "right.look_means": {en: "benches, jobs, records", de: "Messplätze, Aufträge, Messungen"},
  "right.operate": {en: "operate", de: "bedienen"},
  "right.operate_means": {
    en: "answer at a bench, pause and stop, queue jobs",
    de: "am Messplatz antworten, anhalten und beenden, Aufträge anlegen",
  },
  "right.change": {en: "change", de: "ändern"},
  "right.change_means": {en: "move and withdraw jobs", de: "Aufträge verschieben und zurückziehen"},
  "right.administer": {en: "administer", de: "verwalten"},
  "right.administer_means": {en: "users, screens, who did what", de: "Benutzer, Bildschirme, wer was getan hat"},

  "password.title": {en: "Your password", de: "Ihr Passwort"},
  "password.old": {en: "Password until now", de: "Bisheriges Passwort"},
  "password.new": {en: "New password", de: "Neues Passwort"},
  "password.hint":
      {en: "At least 12 characters: four words, for example", de: "Mindestens 12 Zeichen, etwa vier Wörter"},
  "password.change": {en: "Change password", de: "Passwort ändern"},
  "password.done": {
    en: "Changed. Everywhere else you are signed out.",
    de: "Geändert. Überall sonst sind Sie abgemeldet.",
  },

  "tokens.title": {en: "Tokens", de: "Zugangsschlüssel"},
  "tokens.about": {
    en: "With a token a program speaks for you, until a day.",
    de: "Mit einem Zugangsschlüssel spricht ein Programm für Sie, bis zu einem Tag.",
  },
  "tokens.none": {en: "There is none.", de: "Es gibt keinen."},
  "tokens.name": {en: "Name of the token", de: "Name des Zugangsschlüssels"},
  "tokens.name_hint": {en: "What it is for", de: "Wozu er dient"},
  "tokens.days": {en: "Days that it lasts (at most 366)", de: "Tage, die er gilt (höchstens 366)"},
  "tokens.make": {en: "Make a token", de: "Zugangsschlüssel anlegen"},
  "tokens.done": {en: "It is made.", de: "Er ist angelegt."},
  "tokens.secret": {en: "The token", de: "Der Zugangsschlüssel"},
  "tokens.once": {
    en: "It is shown this once. Whoever has it has its rights.",
    de: "Er wird nur dieses eine Mal gezeigt. Wer ihn hat, hat seine Rechte.",
  },
  "tokens.copy": {en: "Copy", de: "Kopieren"},
  "tokens.copied": {en: "Copied.", de: "Kopiert."},
  "tokens.copy_by_hand": {
    en: "The browser does not let the page copy. It is selected: copy it by hand.",
    de: "Der Browser lässt die Seite nicht kopieren. Er ist markiert: bitte von Hand kopieren.",
  },
  "tokens.of": {en: "of <user>", de: "von <user>"},
  "tokens.until": {en: "until <moment>", de: "bis <moment>"},
  "tokens.end": {en: "End", de: "Beenden"},
  "tokens.end_of": {en: "End the token <name>", de: "Zugangsschlüssel <name> beenden"},

  "seats.title": {en: "Screens at benches", de: "Bildschirme an Messplätzen"},
  "seats.about": {
    en: "Only at a screen that stands at a bench are its questions answered.",
    de: "Nur an einem Bildschirm, der an einem Messplatz steht, werden dessen Fragen beantwortet.",
  },
  "seats.here": {en: "This screen stands at <bench>.", de: "Dieser Bildschirm steht an <bench>."},
  "seats.nowhere": {en: "This screen stands at no bench.", de: "Dieser Bildschirm steht an keinem Messplatz."},
  "seats.bench": {en: "This screen stands at", de: "Dieser Bildschirm steht an"},
  "seats.name": {en: "Name of this screen", de: "Name dieses Bildschirms"},
  "seats.name_hint":
      {en: "So that it is known again, such as “tablet”", de: "Damit er wiederzuerkennen ist, etwa „Tablet“"},
  "seats.set": {en: "It stands there", de: "Er steht dort"},
  "seats.done": {en: "It is known.", de: "Das ist vermerkt."},
  "seats.this": {en: "this screen", de: "dieser Bildschirm"},
  "seats.made": {en: "by <who>, <moment>", de: "von <who>, <moment>"},
  "seats.end": {en: "Stands there no more", de: "Steht dort nicht mehr"},
  "seats.end_of": {en: "Stands there no more: <name>", de: "Steht dort nicht mehr: <name>"},

  "users.title": {en: "Users", de: "Benutzer"},
  "users.add_title": {en: "A new user", de: "Ein neuer Benutzer"},
  "users.name": {en: "Name of the user", de: "Name des Benutzers"},
  "users.password": {en: "First password", de: "Erstes Passwort"},
  "users.add": {en: "Add the user", de: "Benutzer anlegen"},
  "users.added": {en: "The user is added.", de: "Der Benutzer ist angelegt."},
  "users.set_rights": {en: "Set these rights", de: "Diese Rechte geben"},
  "users.password_hint": {
    en: "At least 12 characters. The user is then signed out everywhere.",
    de: "Mindestens 12 Zeichen. Der Benutzer wird dann überall abgemeldet.",
  },
  "users.set_password": {en: "Set this password", de: "Dieses Passwort geben"},
  "users.changed": {en: "Changed.", de: "Geändert."},
  "users.remove": {en: "Remove this user", de: "Diesen Benutzer entfernen"},
  "users.remove_of": {en: "Remove this user: <name>", de: "Diesen Benutzer entfernen: <name>"},

  "audit.title": {en: "Who did what", de: "Wer was getan hat"},
  "audit.more": {en: "Show older", de: "Ältere zeigen"},
  "audit.nobody": {en: "nobody signed in", de: "niemand angemeldet"},
  "audit.status": {en: "answer <status>", de: "Antwort <status>"},
  "audit.not_told": {en: "never answered", de: "nie beantwortet"},

  "feed.cut": {
    en: "No connection to the daemon. What you see is old. It is tried again by itself.",
    de: "Keine Verbindung zum Dienst. Was hier steht, ist alt. Der nächste Versuch kommt von selbst.",
  },
  "feed.back": {en: "The connection is back.", de: "Die Verbindung steht wieder."},
  "feed.dropped": {
    en: "This screen was too slow for <count> live pictures. The record has them all.",
    de: "Dieser Bildschirm war für <count> Livebilder zu langsam. In der Aufzeichnung sind alle.",
  },
  "feed.missed": {en: "Ended while you were away:", de: "Inzwischen zu Ende gegangen:"},
  "loading": {en: "One moment …", de: "Einen Moment …"},
  "not_found": {en: "There is no such page.", de: "Diese Seite gibt es nicht."},
  "error": {en: "That did not work", de: "Das ging nicht"},
  "error.no_answer": {
    en: "The daemon does not answer. Is it running, and is the network there?",
    de: "Der Dienst antwortet nicht. Läuft er, und ist das Netz da?",
  },
  "error.try": {en: "Try: <advice>", de: "Abhilfe: <advice>"},
  "error.where": {en: "Where: <where>", de: "Wo: <where>"},

  "choose.title": {en: "Which bench?", de: "Welcher Messplatz?"},
  "choose.none": {
    en: "The daemon has no bench. Start it with --bench FILE.",
    de: "Der Dienst hat keinen Messplatz. Er wird mit --bench DATEI gestartet.",
  },

  "state.idle": {en: "free", de: "frei"},
  "state.waits for start": {en: "waits for its start", de: "wartet auf den Start"},
  "state.running": {en: "running", de: "läuft"},
  "state.paused": {en: "paused", de: "angehalten"},
  "state.stopping": {en: "stopping", de: "wird beendet"},
  "state.stopped working": {en: "out of order", de: "außer Betrieb"},

  "bench.unit": {en: "Unit <serial>", de: "Gerät <serial>"},
  "bench.now": {en: "Now", de: "Jetzt"},
  "bench.idle": {en: "Nothing to do. The bench is free.", de: "Nichts zu tun. Der Messplatz ist frei."},
  "bench.scan": {
    en: "A serial number that is scanned here prepares its visit.",
    de: "Eine Seriennummer, die hier gescannt wird, bereitet ihren Auftrag vor.",
  },
  "bench.queue_job": {en: "Queue a job", de: "Auftrag anlegen"},
  "bench.see_run": {en: "See this run", de: "Diesen Lauf ansehen"},
  "bench.begins": {en: "The run begins.", de: "Der Lauf beginnt."},
  "bench.trouble": {en: "This bench takes no jobs", de: "Dieser Messplatz nimmt keine Aufträge an"},
  "bench.cautions": {en: "Caution", de: "Vorsicht"},
  "bench.stopping": {en: "Stopping: everything is being made safe.", de: "Wird beendet: alles wird gesichert."},
  "bench.paused": {en: "Paused. Nothing goes on until you say so.", de: "Angehalten. Ohne Sie geht nichts weiter."},
  "bench.paused_elsewhere": {
    en: "Paused. It goes on when a person at the bench says so.",
    de: "Angehalten. Es geht weiter, wenn jemand am Messplatz es sagt.",
  },
  "bench.controls": {en: "Run", de: "Lauf"},
  "bench.pause": {en: "Pause", de: "Anhalten"},
  "bench.go_on": {en: "Go on", de: "Weiter"},
  "bench.stop_after": {en: "Stop after this step", de: "Nach Schritt beenden"},
  "bench.stop": {en: "Stop now", de: "Sofort beenden"},

  "question": {en: "To do", de: "Zu tun"},
  "question.done": {en: "Done", de: "Erledigt"},
  "question.start": {en: "Start", de: "Starten"},
  "question.yes": {en: "Yes", de: "Ja"},
  "question.no": {en: "No", de: "Nein"},
  "question.send": {en: "OK", de: "OK"},
  "question.pedal": {en: "or space bar, or pedal", de: "oder Leertaste, oder Pedal"},
  "question.within": {en: "within <time>", de: "innerhalb von <time>"},
  "question.value": {en: "Value with its unit", de: "Wert mit Einheit"},
  "question.code": {en: "Code (scan or type it)", de: "Code (scannen oder tippen)"},
  "question.text": {en: "Your answer", de: "Ihre Antwort"},
  "question.allowed": {en: "Allowed: <allowed>", de: "Erlaubt: <allowed>"},
  "question.point": {
    en: "A decimal point, as in 1.20 V",
    de: "Mit Dezimalpunkt, wie in 1.20 V",
  },
  "question.file": {
    en: "A file is wanted here. It cannot be given from this page.",
    de: "Hier wird eine Datei gebraucht. Von dieser Seite aus geht das nicht.",
  },

  "level": {en: "Level", de: "Pegel"},
  "level.of": {en: "Level of <signal>", de: "Pegel von <signal>"},
  "level.none": {en: "no live value", de: "kein aktueller Wert"},
  "level.no_uncertainty": {en: "uncertainty not known yet", de: "Unsicherheit noch nicht bekannt"},
  "level.kept": {
    en: "<kept> of <wanted> waveforms kept, <tried> tried",
    de: "<kept> von <wanted> Aufnahmen behalten, <tried> versucht",
  },
  "band.low": {en: "low", de: "zu niedrig"},
  "band.in": {en: "in limits", de: "im Bereich"},
  "band.high": {en: "high", de: "zu hoch"},
  "band.near": {en: "too near the limit to tell", de: "zu nah an der Grenze"},
  "band.none": {en: "", de: ""},
  "band.limits": {en: "Limits: <limits>", de: "Grenzen: <limits>"},
  "limit.both": {en: "<low> to <high>", de: "<low> bis <high>"},
  "limit.at_least": {en: "at least <low>", de: "mindestens <low>"},
  "limit.at_most": {en: "at most <high>", de: "höchstens <high>"},
  "eye": {en: "Eye of the latest waveforms", de: "Auge der letzten Aufnahmen"},
  "eye.not_live": {en: "Eye, not live", de: "Auge, nicht aktuell"},
  "eye.scale": {en: "<low> to <high>, <periods> T wide", de: "<low> bis <high>, <periods> T breit"},

  "recipe": {en: "Sequence", de: "Ablauf"},
  "recipe.opening": {en: "At the beginning", de: "Zu Beginn"},
  "recipe.steps": {en: "Then", de: "Danach"},
  "recipe.closing": {en: "At the end, whatever happened", de: "Am Ende, was immer geschah"},
  "recipe.behind": {en: "behind", de: "erledigt"},
  "recipe.here": {en: "here", de: "hier"},
  "recipe.ahead": {en: "ahead", de: "kommt noch"},
  "recipe.left_out": {en: "left out", de: "ausgelassen"},

  "end.pass": {en: "Finished. Every limit is met.", de: "Fertig. Alle Grenzen sind eingehalten."},
  "end.fail": {en: "Finished. A limit is not met.", de: "Fertig. Eine Grenze ist nicht eingehalten."},
  "end.undecided": {
    en: "Finished, undecided: too near a limit to be sure.",
    de: "Fertig, unentschieden: zu nah an einer Grenze.",
  },
  "end.none": {en: "Finished. Nothing was judged.", de: "Fertig. Es wurde nichts beurteilt."},
  "end.stopped": {en: "Stopped. The unit is not judged.", de: "Beendet. Das Gerät ist nicht beurteilt."},
  "end.open": {en: "Not closed yet.", de: "Noch nicht abgeschlossen."},
  "end.reading": {en: "<name> is <value>; allowed: <limits>.", de: "<name> ist <value>; erlaubt: <limits>."},
  "judgement.pass": {en: "limits met", de: "Grenzen eingehalten"},
  "judgement.fail": {en: "limit not met", de: "Grenze nicht eingehalten"},
  "judgement.undecided": {en: "undecided", de: "unentschieden"},
  "judgement.none": {en: "not judged", de: "nicht beurteilt"},
  "ended.stopped": {en: "stopped", de: "beendet"},
  "ended.open": {en: "under way", de: "läuft"},

  "run.title": {en: "Run <run>", de: "Lauf <run>"},
  "run.readings": {en: "Readings", de: "Messwerte"},
  "run.no_readings": {en: "Nothing was measured.", de: "Es wurde nichts gemessen."},
  "run.answers": {en: "Answers", de: "Antworten"},
  "run.why": {en: "Why it stopped", de: "Warum beendet"},
  "run.happened": {en: "What happened", de: "Was geschah"},
  "run.sheet": {en: "Sheet", de: "Blatt"},
  "run.sheet_of": {en: "Sheet of run <run>", de: "Blatt zum Lauf <run>"},
  "run.sheet_pdf": {en: "Sheet as PDF", de: "Blatt als PDF"},
  "run.sheet_png": {en: "Sheet as PNG", de: "Blatt als PNG"},
  "run.thinned": {
    en: "On <date> the samples of <count> captures were thinned out; <kept> stay. Readings and judgements are as they were.",
    de: "Am <date> wurden die Abtastwerte von <count> Aufnahmen ausgedünnt; <kept> bleiben. Messwerte und Urteile sind wie zuvor."
  },
  "run.of": {en: "<count> of <tried> kept", de: "<count> von <tried> behalten"},

  "event.begun": {en: "Begun: <sequence> on <bench>", de: "Begonnen: <sequence> an <bench>"},
  "event.connected": {en: "Connected: <role>, <identity>", de: "Verbunden: <role>, <identity>"},
  "event.waiting": {en: "Waiting for <what>", de: "Wartet auf <what>"},
  "event.prompted": {en: "Asked: <text>", de: "Gefragt: <text>"},
  "event.answered": {en: "Answered “<answer>” by <by>", de: "Antwort „<answer>“ von <by>"},
  "event.set": {en: "Set: <role>, <setting> <value>", de: "Eingestellt: <role>, <setting> <value>"},
  "event.captured":
      {en: "Captured: <name>, <kept> of <tried> kept", de: "Aufgenommen: <name>, <kept> von <tried> behalten"},
  "event.seen": {en: "Seen: <what>", de: "Gesehen: <what>"},
  "event.measured": {en: "Measured: <name> is <value>", de: "Gemessen: <name> ist <value>"},
  "event.judged": {en: "Judged: <reading>, <judgement>", de: "Beurteilt: <reading>, <judgement>"},
  "event.proved": {en: "Proved: <item> of <of>, <judgement>", de: "Geprüft: <item> von <of>, <judgement>"},
  "event.aimed": {
    en: "Adjusting: <reading> is to lie between <least> and <most>",
    de: "Abgleich: <reading> soll zwischen <least> und <most> liegen"
  },
  "event.advised": {en: "Advice <turn>: turn it <words>", de: "Rat <turn>: drehen, <words>"},
  "event.found": {en: "Found: <cause>: <because>", de: "Gefunden: <cause>: <because>"},
  "event.diagnosed": {en: "Diagnosed: <cause>", de: "Befund: <cause>"},
  "event.noted": {en: "Noted: <text>", de: "Notiert: <text>"},
  "event.enclosed": {en: "Enclosed: <name>, <file>", de: "Beigelegt: <name>, <file>"},
  "event.reached": {en: "Reached a place to resume at", de: "Stelle zum Fortsetzen erreicht"},
  "event.broken off": {en: "Broken off: <message>", de: "Abgebrochen: <message>"},
  "event.closed": {en: "Closed", de: "Abgeschlossen"},

  "workshop.title": {en: "What all runs say together", de: "Was alle Messungen zusammen sagen"},
  "workshop.check_unit":
      {en: "Serial number of the unit that checks the benches", de: "Seriennummer des Prüfgeräts der Messplätze"},
  "workshop.look": {en: "Look", de: "Ansehen"},
  "workshop.since": {
    en: "Of runs since <day>; <readings> readings of <reading>.",
    de: "Von Messungen seit <day>; <readings> Werte von <reading>."
  },
  "workshop.charts": {
    en: "Control charts of <reading>; the sentences above say what they show",
    de: "Regelkarten von <reading>; die Sätze darüber sagen, was sie zeigen"
  },
  "workshop.by_model": {en: "By model", de: "Nach Modell"},
  "workshop.by_bench": {en: "By bench", de: "Nach Messplatz"},
  "workshop.by_operator": {en: "By person", de: "Nach Person"},
  "workshop.units_by_lot": {en: "Units by lot of their pickups", de: "Geräte nach Los ihrer Abtaster"},
  "workshop.by_week": {en: "By week, from its Monday", de: "Nach Woche, ab ihrem Montag"},
  "workshop.of": {en: "Of", de: "Von"},
  "workshop.passed": {en: "passed", de: "bestanden"},
  "workshop.failed": {en: "failed", de: "nicht bestanden"},
  "workshop.undecided": {en: "undecided", de: "unentschieden"},
  "workshop.yield": {en: "yield (95 % interval)", de: "Anteil (95-%-Bereich)"},
  "workshop.not_said": {en: "(not said)", de: "(nicht gesagt)"},
  "records.title": {en: "Records of a unit", de: "Messungen eines Geräts"},
  "records.serial": {en: "Serial number", de: "Seriennummer"},
  "records.find": {en: "Find", de: "Suchen"},
  "records.newest": {en: "Newest runs", de: "Neueste Läufe"},
  "records.of": {en: "Runs of <serial>", de: "Läufe von <serial>"},
  "records.thinned_after": {
    en: "Captures are thinned out after <days> days; readings stay.",
    de: "Aufnahmen werden nach <days> Tagen ausgedünnt; Messwerte bleiben."
  },
  "records.archived_after":
      {en: "Runs go into an archive after <days> days.", de: "Läufe kommen nach <days> Tagen in ein Archiv."},
  "records.room_next": {en: "Next: <when>.", de: "Das nächste Mal: <when>."},
  "records.room_failed": {en: "The last time this failed: <why>", de: "Das letzte Mal misslang das: <why>"},
  "records.none": {en: "No run is recorded.", de: "Es ist kein Lauf aufgezeichnet."},

  "queue.title": {en: "Jobs", de: "Aufträge"},
  "queue.under_way": {en: "Under way", de: "Läuft"},
  "queue.waiting": {en: "Waiting, next first", de: "Wartet, der nächste zuerst"},
  "queue.interrupted": {en: "Interrupted", de: "Unterbrochen"},
  "queue.ended": {en: "Ended", de: "Zu Ende"},
  "queue.schedules": {en: "By the clock", de: "Nach der Uhr"},
  "schedule.daily": {en: "every day at <time>", de: "täglich um <time>"},
  "schedule.days": {en: "<days> at <time>", de: "<days> um <time>"},
  "queue.nothing": {en: "No jobs.", de: "Keine Aufträge."},
  "queue.state.done": {en: "done", de: "erledigt"},
  "queue.state.withdrawn": {en: "withdrawn", de: "zurückgezogen"},
  "queue.state.refused": {en: "refused", de: "abgelehnt"},
  "queue.state.waiting": {en: "waiting", de: "wartet"},
  "queue.state.under way": {en: "under way", de: "läuft"},
  "queue.state.interrupted": {en: "interrupted", de: "unterbrochen"},
  "queue.priority_of": {en: "Priority of job <id>", de: "Vorrang von Auftrag <id>"},
  "queue.higher": {en: "Sooner", de: "Früher"},
  "queue.lower": {en: "Later", de: "Später"},
  "queue.higher_of": {en: "Take job <id> sooner", de: "Auftrag <id> früher nehmen"},
  "queue.lower_of": {en: "Take job <id> later", de: "Auftrag <id> später nehmen"},
  "queue.withdraw": {en: "Withdraw", de: "Zurückziehen"},
  "queue.withdraw_of": {en: "Withdraw job <id>", de: "Auftrag <id> zurückziehen"},
  "queue.stop": {en: "Stop", de: "Beenden"},
  "queue.stop_of": {en: "Stop job <id>", de: "Auftrag <id> beenden"},
  "queue.resume": {en: "Resume", de: "Fortsetzen"},
  "queue.resume_of": {en: "Resume job <id>", de: "Auftrag <id> fortsetzen"},
  "queue.close": {en: "Close", de: "Abschließen"},
  "queue.close_of": {en: "Close job <id>", de: "Auftrag <id> abschließen"},
  "queue.line": {en: "Job <id>, priority <priority>", de: "Auftrag <id>, Vorrang <priority>"},
  "queue.asked_by": {en: "asked: <by>", de: "angelegt: <by>"},
  "queue.add": {en: "Queue a job", de: "Auftrag anlegen"},
  "queue.bench": {en: "Bench", de: "Messplatz"},
  "queue.sequence": {en: "Sequence", de: "Ablauf"},
  "queue.model": {en: "Model", de: "Modell"},
  "queue.no_model": {en: "none", de: "keines"},
  "queue.priority": {en: "Priority (higher is sooner)", de: "Vorrang (höher kommt früher)"},
  "queue.usual": {en: "usual <usual>", de: "üblich <usual>"},
  "queue.allowed": {en: "allowed <allowed>", de: "erlaubt <allowed>"},
  "queue.likely": {en: "It takes about <time>.", de: "Es dauert etwa <time>."},
  "queue.laser": {en: "The laser is lit for about <time>.", de: "Der Laser leuchtet etwa <time>."},
  "queue.added": {en: "Job <id> is queued.", de: "Auftrag <id> ist angelegt."},

  "benches.title": {en: "Benches and instruments", de: "Messplätze und Messgeräte"},
  "benches.calibration_due": {en: "calibration due <date>", de: "Kalibrierung fällig <date>"},
  "benches.calibration_over": {en: "calibration overdue since <date>", de: "Kalibrierung überfällig seit <date>"},
  "benches.calibration_none": {en: "no calibration date given", de: "kein Kalibrierdatum angegeben"},
  "benches.not_asked": {en: "not asked yet", de: "noch nicht befragt"},
  "benches.answers": {en: "answered: <identity>, <when>", de: "antwortete: <identity>, <when>"},
  "benches.silent": {en: "did not answer, <when>", de: "antwortete nicht, <when>"},
  "benches.seen": {en: "answered last <when>", de: "antwortete zuletzt <when>"},
  "benches.proven": {en: "proven <when>", de: "nachgewiesen <when>"},
  "benches.proof_old": {en: "last proven <when>, too long ago", de: "zuletzt nachgewiesen <when>, zu lange her"},
  "benches.proof_failed": {en: "its last proof, <when>, did not pass", de: "der letzte Nachweis, <when>, misslang"},
  "benches.proof_none": {en: "never proven", de: "nie nachgewiesen"},
  "benches.ask": {en: "Ask the instruments", de: "Messgeräte befragen"},
  "benches.ask_of": {en: "Ask the instruments of <bench>", de: "Messgeräte befragen, <bench>"},
  "benches.open": {en: "To the bench", de: "Zum Messplatz"},

  "rehearsal.title": {en: "Rehearsal", de: "Probelauf"},
  "rehearsal.about": {
    en: "A sequence against simulated units, discs, instruments and hands. No instrument is touched.",
    de: "Ein Ablauf mit simulierten Geräten, Platten, Messgeräten und Händen. Kein Messgerät wird angefasst.",
  },
  "rehearsal.model_usual": {en: "the built-in one", de: "das eingebaute"},
  "rehearsal.units": {en: "Units", de: "Geräte"},
  "rehearsal.rate": {en: "Units with one trouble at random, in %", de: "Geräte mit einer zufälligen Störung, in %"},
  "rehearsal.rate_hint": {en: "Besides the troubles switched on below", de: "Neben den unten eingeschalteten"},
  "rehearsal.seed": {en: "Seed", de: "Startzahl"},
  "rehearsal.seed_hint": {en: "The same seed gives the same units again", de: "Dieselbe Zahl gibt dieselben Geräte"},
  "rehearsal.troubles": {en: "Troubles that every unit has", de: "Störungen, die jedes Gerät hat"},
  "rehearsal.begin": {en: "Rehearse", de: "Proben"},
  "rehearsal.stop": {en: "End it with what there is", de: "Jetzt beenden"},
  "rehearsal.progress": {en: "<done> of <units> units", de: "<done> von <units> Geräten"},
  "rehearsal.result": {en: "What came of it", de: "Ergebnis"},
  "rehearsal.ends": {en: "<units> units: <ends>.", de: "<units> Geräte: <ends>."},
  "rehearsal.end.pass": {en: "<count> pass", de: "<count> im Bereich"},
  "rehearsal.end.fail": {en: "<count> fail", de: "<count> nicht im Bereich"},
  "rehearsal.end.undecided": {en: "<count> undecided", de: "<count> unentschieden"},
  "rehearsal.end.not judged": {en: "<count> not judged", de: "<count> nicht beurteilt"},
  "rehearsal.end.stopped": {en: "<count> stopped", de: "<count> beendet"},
  "rehearsal.as_they_must": {en: "Every unit ended as it must.", de: "Jedes Gerät endete, wie es muss."},
  "rehearsal.not_as_they_must": {
    en: "<wrong> did not end as they must, <passes> passed wrongly.",
    de: "<wrong> endeten nicht, wie sie müssen, <passes> bestanden zu Unrecht.",
  },
  "rehearsal.reading": {en: "<name> is <value>", de: "<name> ist <value>"},
  "rehearsal.reading_truth": {en: "<name> is <value>, in truth <truth>", de: "<name> ist <value>, in Wahrheit <truth>"},

  "settings.title": {en: "Settings of this screen", de: "Einstellungen dieses Bildschirms"},
  "settings.language": {en: "Language", de: "Sprache"},
  "settings.by": {en: "Who answers here", de: "Wer hier antwortet"},
  "settings.by_usual": {en: "at the bench", de: "am Messplatz"},
  "settings.pedal": {en: "Key of the pedal", de: "Taste des Pedals"},
  "settings.pedal_is": {
    en: "Space bar, Enter and PageDown always work. Besides: <key>.",
    de: "Leertaste, Enter und Bild-ab gehen immer. Außerdem: <key>.",
  },
  "settings.pedal_none": {en: "none", de: "keine"},
  "settings.pedal_learn": {en: "Learn another key", de: "Andere Taste lernen"},
  "settings.pedal_press": {
    en: "Press the pedal now. Escape or Tab leaves it as it is.",
    de: "Jetzt das Pedal drücken. Escape oder Tab lässt alles, wie es ist.",
  },
  "settings.pedal_forget": {en: "Forget that key", de: "Diese Taste vergessen"},

  "time.s": {en: "<count> s", de: "<count> s"},
  "time.min": {en: "<count> min", de: "<count> min"},
  "time.h": {en: "<count> h", de: "<count> h"},
};

export const languages = {
  en: "English",
  de: "Deutsch"
};

export const keys = Object.keys(table);

export function row(key) { return table[key]; }

// The first language wanted that there is, else English. `wanted` as in navigator.languages.
export function choose_language(wanted) {
  for (const tag of wanted) {
    const language = tag.toLowerCase().split("-")[0];
    if (language in languages) return language;
  }
  return "en";
}

// The way in which numbers and dates are written: that of the first wish for this language, such as en-GB.
export function choose_locale(language, wanted) {
  return wanted.find((tag) => tag.toLowerCase().split("-")[0] === language) ?? language;
}

// The text of this key with its values put in. A key that is not in the table is a mistake of the page.
export function text(language, key, values = {}) {
  const found = table[key];
  if (found === undefined) throw new Error(`no text for "${key}"`);
  return found[language].replace(/<(\w+)>/g, (whole, name) => {
    if (!(name in values)) throw new Error(`the text "${key}" wants a value for <${name}>`);
    return String(values[name]);
  });
}

export function has_text(key) { return key in table; }
