/** @file Every word on the screens, in English; another language is another file like this.
 *
 * One word per thing, as in docs/nomenclature.md, in its plainer form where it has one. Odds
 * are said in words beside numbers, and lengths with their doubt.
 */
import { digits, length, type Units } from "./units";

const plural = (count: number, one: string, many = `${one}s`): string =>
  `${count === 1 ? "one" : count} ${count === 1 ? one : many}`;
const percent = (share: number): string => `${Math.round(100 * share)}%`;
const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

const lineWord = (ridge: boolean): string => (ridge ? "ridge line" : "skyline");
const RELATIONS = { left: "left of", right: "right of", above: "above", below: "below" } as const;

export const words = {
  name: "wherestood",
  opening: "Opening…",
  locked:
    "This page opens through the address that the program printed when it started. Use that one.",
  undo: "Undo",
  redo: "Do again",
  close: "Close",
  cancel: "Cancel",
  add: "Add",
  tookBack: (what: string) => `Taken back. ${what}`,
  didAgain: (what: string) => `Done again. ${what}`,
  contested: {
    meanwhile: (theirs: string) =>
      theirs
        ? `Meanwhile this was changed to “${theirs}”, in another window or by somebody else.`
        : "Meanwhile this was emptied, in another window or by somebody else.",
    mine: "Keep mine",
    theirs: "Take theirs",
  },
  setAside: "Set aside",
  leaveIt: "Leave it",
  notSaid: "not said",
  yes: "yes",
  no: "no",
  choices: {} as Record<string, string>,

  gone: {
    atFirst: "The program does not answer. Start it again, and this page goes on by itself.",
    title: "The program does not answer.",
    kept: "What you typed is kept, and is saved once it answers again. If you closed it, start it with “wherestood serve”.",
    field: "Kept here, not yet saved.",
  },

  look: {
    system: "Light or dark as the system has it",
    light: "Light",
    dark: "Dark",
  },

  rooms: {
    title: "Rooms",
    plates: "Plates",
    looking: "Looking",
    where: "Where",
    ground: "Against the ground",
    when: "When",
    leads: "Leads",
    visit: "Visit",
    handover: "Hand over",
  },

  why: {
    moved: "mark moved",
    setAside: "set aside on the page",
    searched: "ground searched drawn on the page",
    said: "place of a statement drawn on the page",
  },

  standing: {
    noScan: "No scan of it yet: add one in Looking.",
    nothingYet: "Nothing read off it yet",
    nothingByHand: "Skyline read by the run alone",
    readyToRun: "not looked for yet",
    traced: (share: number) =>
      share > 0.95 ? "Skyline traced" : `Skyline traced over ${percent(share)}`,
    tied: (count: number) => `${plural(count, "thing")} tied`,
    others: (count: number) => plural(count, "other item"),
    decided: (conclusion: string, by: string) => `${conclusion} by ${by}`,
    verdict: (verdict: string, nearEnough: string) =>
      verdict === "located"
        ? `located to ${nearEnough}`
        : verdict === "several places"
          ? "several places remain"
          : "where it was taken can’t be told yet",
  },

  jobs: {
    done: (title: string) => `${title}: done.`,
    cancel: (title: string) => `Stop: ${title}`,
    stop: "Stop",
    again: "Try again",
    stopped: {
      crashed: (title: string) => `${title}: it broke off. Nothing was changed by it.`,
      interrupted: (title: string) =>
        `${title}: it was cut short when the program ended. Nothing was changed by it.`,
    },
  },

  noPlate: {
    addFirst: "Add a scan first",
    choose: "Choose a plate",
    looking:
      "Here you look at one plate closely: letter what you see, trace its skyline, tie things to the map.",
    where: "Here stands where the camera of one plate may have stood, and how sure that is.",
    ground: "Here one plate is held against what the terrain says it should show.",
    when: "Here are the dates of one plate, and what they rest on.",
    leads: "Here is what to look up and whom to ask about one plate.",
    visit: "Here is what to take along to stand on the spot again.",
    handover: "Here one plate is made ready for an archive: rights, restrictions, files.",
  },

  welcome: {
    question: "Where did the camera stand?",
    demo: "See how it goes",
    demoWhat:
      "An invented valley and an invented plate, with a four-step start. It takes some ten minutes.",
    demoMake: "Make the demo",
    demoOpen: "Open the demo",
    make: "Begin a daybook",
    person: "Your name",
    personWhy: "stands beside what you write",
    folder: "Folder for it; it is made if it is not there",
    makeIt: "Begin",
    open: "Open a daybook",
    choose: "Look for its folder",
    above: "One folder up",
    isDaybook: "daybook",
    noFolders: "No folder in here.",
  },

  guide: {
    title: "Four steps",
    finished: "That is the whole way",
    brief: (step: number) => `Step ${step} of four`,
    dismiss: "Put the four steps away",
    go: (room: string) => `Go to ${room}`,
    steps: [
      {
        title: "See the skyline",
        how: "The machine traces it in one go, with gaps where a house or a tree stands before the hills. Take the skyline tool to mend it.",
      },
      {
        title: "Letter a thing you see",
        how: "Take the letter tool and click something on the plate: a chimney, a gable, a summit. Then tie it to the map, if you know what it is.",
      },
      {
        title: "Ask where the camera stood",
        how: "Everything you marked counts. The answer says how sure it is, and what each thing contributes.",
      },
      {
        title: "Hold it against the ground",
        how: "See what the terrain would show from there, over the plate, beneath it or beside it.",
      },
    ],
  },

  addScan: {
    first: "A daybook begins with a scan.",
    forPlate: "This plate has no scan yet.",
    how: "TIFF, JPEG, PNG, JPEG 2000 or DNG, as large as it is. The file is copied in and never changed; each makes a plate of its own.",
    drop: "Drop a scan here",
    more: "Drop more scans here",
    kept: "Next you say roughly where it may have been taken; then the page tells which terrain to get.",
  },
  drop: { choose: "Choose files", folder: "Choose a folder", sending: "Taking it in…" },

  plates: {
    standing: (count: number) =>
      count === 0 ? "No plates yet." : `${capital(plural(count, "plate"))}.`,
    view: "How they are shown",
    sheet: "Contact sheet",
    map: "Camera positions",
    timeLine: "Time line",
    drawer: "Find and change plates",
    found: (count: number) => plural(count, "plate"),
    none: "No plate is like that. Take something out of the filter.",
    filter: "Filter",
    find: "Find",
    findWhat: "title, place, inscription…",
    grade: "Grade",
    verdict: "Answer",
    from: "From year",
    to: "To year",
    sort: "In order of",
    large: "Large pictures",
    sorts: { key: "number", title: "title", date: "date", newest: "newest first" },
    any: "any",
    maker: "Maker",
    withinMap: "Only within the part of the map chosen.",
    anywhere: "Anywhere",
    onlyHere: "Only what this part of the map shows",
    notTried: "not tried",
    noScan: "no scan",
    covered: (because: string | null) => (because ? `Covered: ${because}` : "Covered"),
    uncover: "Look anyway",
    pick: (name: string) => `Pick ${name}`,
    letGo: "Let go",
    noPlaces: "No camera position yet. Once a plate is located it stands here, with its doubt.",
    mapLabel: (count: number) =>
      `Camera positions of ${plural(count, "plate")}; click one to open it`,
    noDates: "No plate here has a date yet.",
    inYear: (year: number, plates: number) => `${year}: ${digits(plates, 2)} plates`,
    keyMove: "From plate to plate",
    keyOpen: "Open the plate",
    keyPick: "Pick the plate",
  },
  batch: {
    title: (count: number) => `Change ${plural(count, "plate")}`,
    column: "What",
    value: "To",
    change: "Change all",
    done: (count: number) => `${capital(plural(count, "plate"))} changed, in one act.`,
    setAside: (count: number) => `${capital(plural(count, "plate"))} set aside; Undo brings back.`,
  },

  cover: {
    covered: (because: string | null) =>
      because ? `This picture is covered: ${because}` : "This picture is covered.",
    show: "Show it all the same",
  },
  maker: {
    label: "Maker",
    new: "Somebody not yet written down",
    name: "Name, as they wrote it",
    title: "Makers",
    empty: "Photographers and firms: when and where they worked narrows dates and places.",
    add: "Write down a maker",
    from: "Worked from",
    to: "Worked to",
    places: "Where they worked",
    lens: "Lenses and sizes they used",
    numbering: "How they numbered negatives",
  },
  scanForm: {
    heading: "The scan",
    what: "What was scanned",
    negative: "The file shows a negative",
    reversed: "It is left for right",
    ppi: "Scanned at, pixels an inch",
    page: "Page of the file, the first is 0",
  },
  date: { kept: (edtf: string) => `Kept as ${edtf}` },
  plateForm: {
    heading: "The plate itself",
    title: "Title",
    place_words: "Place, as somebody wrote it",
    date_words: "Date, as somebody wrote it",
    inscription: "Inscription, as written",
    held_by: "Held by",
    collection: "Collection or album",
    negative_number: "Maker’s own number",
    size: "Plate size",
    process: "What was scanned",
    footing: "What the camera stood on",
    principal_distance_mm: "Lens to plate",
    grade: "How far it can be answered",
    panorama: "Panorama it belongs to",
    ground: "Ground searched",
  },

  stage: {
    divide: "Divide between plate and what stands beside it",
    map: "Map",
    other: "Another picture",
    plan: "Old plan",
    strip: "Horizon strip",
  },

  plate: {
    label: (title: string) => `Plate: ${title}`,
    unreadable: "The scan could not be opened. Look in its folder whether the file is still there.",
    keys: "Arrow keys move the plate, plus and minus bring it nearer and farther. X puts out a crosshair that arrow keys move; Enter sets a point there.",
  },
  sheetKeys: [
    [
      "ArrowLeft",
      "Move the sheet; with the crosshair out, the crosshair (Shift ten, Alt a tenth of a pixel)",
    ],
    ["x", "Put the crosshair out, or take it in"],
    [
      "Enter",
      "Set a point at the crosshair, twice at one place to complete the line; begin or end a stroke",
    ],
    ["+", "Nearer"],
    ["-", "Farther"],
    ["0", "All of it"],
    ["Delete", "Set aside the letter that has the focus"],
    [",", "Turn the camera left, where its sign has the focus"],
    [".", "Turn it right"],
  ] as const,

  besideKeys: {
    divide: "Move the divide between plate and map, where it has the focus",
    turn: "Turn the camera on the horizon strip (Shift by five degrees, Alt finely)",
    swipe: "Move the edge of the terrain’s view",
    layers: "What lies on the map",
    escape: "Let go of what was begun on the map",
  },
  foot: {
    view: "View",
    nearer: "Nearer",
    farther: "Farther",
    actual: "One pixel of the scan to one of the screen",
    zoomed: (times: number) => `${percent(times)}; press for one pixel to one`,
    fit: "All of it",
    crosshair: "Crosshair for the keyboard",
    px: ([x, y]: readonly number[]) => `${(x ?? 0).toFixed(1)}, ${(y ?? 0).toFixed(1)} px`,
    mm: (x: number, y: number) => `${x.toFixed(1)}, ${y.toFixed(1)} mm from the middle`,
    flipped: " shown left for right",
    call: "Call beside the plate",
  },
  other: {
    which: "Which picture",
    choose: "choose one",
    copies: "Other copies of this plate",
    plates: "Other plates",
    plans: "Old plans",
    empty: "Choose a picture to look at beside this one.",
    none: "There is no other picture in this daybook yet.",
  },

  tone: {
    title: "How it is shown",
    changed: "changed",
    brightness: "Brightness",
    contrast: "Contrast",
    turn: (deg: number) => `Turned by ${deg}°`,
    channel: "Channel",
    channels: { all: "all", red: "red", green: "green", blue: "blue" },
    local: "Local contrast",
    invert: "Light for dark",
    flip: "Left for right",
    loupe: "Magnifier",
    computed: "Show the computed horizon",
    notBlind:
      "A line drawn while it shows is no longer independent of it; that is noted with the line.",
    reset: "As it was scanned",
    onlyLooking: "For looking only: the scan is never changed.",
  },

  looking: {
    next: "What comes next",
    openMap: "Open the map",
    drawer: "What is being worked on",
    shelf: "Tools",
    tools: {
      hand: "Move",
      letter: "Letter",
      skyline: "Skyline",
      ridge: "Ridge line",
      upright: "Upright edge",
      water: "Water level",
      shadow: "Shadow",
      inline: "In line",
      order: "Order",
      size: "Known size",
      distance: "Known distance",
      measure: "Measure",
    },
    how: {
      hand: "Drag the plate, scroll to come nearer. Drag a letter to move its mark.",
      letter: "Click something you see: it gets the next letter and a mark.",
      skyline: "The boundary of land and sky. Let the machine trace it, then mend what is wrong.",
      ridge:
        "Click along an edge below the skyline that is a ridge before farther ground; double click ends it. Or let the machine offer some, and mend or set aside each.",
      upright:
        "Click both ends of an edge that stands upright in the world: a corner of a house, a mast.",
      water: "Click along the far edge of still water; double click ends it.",
      shadow:
        "Click where an upright thing meets the ground, where its shadow ends, and its top; without the top, double click the shadow's end. It tells the hour in the room When.",
      inline: "Choose two letters of which one stands straight above the other.",
      order: "Choose two letters: first the one, then the other.",
      size: "Click both ends of something whose length you know: a door, a mast, a gable.",
      distance: "Choose a letter whose distance from the camera is known.",
      measure: "Click two points.",
    },
    mend: "Mend the line",
    mends: {
      brush: {
        name: "Brush",
        how: "Draw along the true line: it replaces what was there.",
        why: (ridge: boolean) => `${lineWord(ridge)} mended by brush`,
      },
      eraser: {
        name: "Eraser",
        how: "Rub out what is not the line.",
        why: (ridge: boolean) => `${lineWord(ridge)} rubbed out in part`,
      },
      gap: {
        name: "Gap",
        how: "Drag from left to right across what stands before the hills.",
        why: (ridge: boolean) => `gap opened in the ${lineWord(ridge)}`,
      },
      pen: {
        name: "Snap pen",
        how: "Click along the line; between your points it finds the edge. Double click or Enter keeps it.",
        why: (ridge: boolean) => `${lineWord(ridge)} mended by snapping pen`,
      },
    },
    radius: "Eraser",
    trace: "Trace by machine",
    traceAgain: "Trace again by machine",
    traced: (share: number, pieces: number, byHand: boolean) =>
      `Traced over ${percent(share)} of the width, in ${plural(pieces, "piece")}${byHand ? "; mended by hand" : ""}.`,
    untraced: "No skyline yet.",
    offered: (count: number) => `${capital(plural(count, "ridge line"))} offered by machine`,
    offerRidges: "Offer ridge lines by machine",
    offerAgain: "Offer them anew",
    ridges: (machine: number, person: number) =>
      [
        machine ? `${plural(machine, "line")} offered by machine, dashed` : "",
        person ? `${plural(person, "line")} by a person` : "",
      ]
        .filter(Boolean)
        .join("; "),
    ridgeMends: "The ridge line chosen can be mended:",
    newRidge: "Draw another one",
    relation: "The first stands",
    finish: "Complete the line",
    drop: "Let go of what was begun",
    focusPlate: "Go to the plate",
    oneOfPair: (letter: string) => `${letter}, and… choose the second letter.`,
    measured: (px: number, px_per_mm: number | null) =>
      px_per_mm
        ? `${px.toFixed(1)} px, ${(px / px_per_mm).toFixed(2)} mm on the plate`
        : `${px.toFixed(1)} px`,
    seen: "Things seen",
    noneSeen:
      "Nothing lettered yet. Take the letter tool and click what you recognise, or only notice.",
    unnamed: "not described yet",
    lines: "Lines, levels and orders",
    noLines:
      "None yet. Upright edges and water tell how the camera was held; in lines and orders need no lens.",
    tag: (letter: string, what: string | null, tied: boolean) =>
      `${letter}${what ? `, ${what}` : ""}${tied ? ", tied to the map" : ", not tied to the map"}; arrow keys move its mark`,
  },

  detail: {
    title: (letter: string) => `Thing seen ${letter}`,
    what: "What it looks like",
    whatLike: "brick chimney with a cap",
    note: "Note",
    crop: (letter: string) => `Crop of ${letter}`,
    closer: "Closer crop",
    wider: "Wider crop",
    sd: "Mark good to",
    at: "It marks",
    marked: ([x, y]: readonly number[]) =>
      `Marked at ${(x ?? 0).toFixed(1)}, ${(y ?? 0).toFixed(1)} px. Arrow keys on its letter move it.`,
    taken: (what: string) => `Taken to be: ${what}`,
    untie: "Untie",
    identifiedBy: "Who says so, and how they know",
    tie: "Tie it to the map",
    tying: "Now click the place on the map",
  },

  evidence: {
    relations: RELATIONS,
    inLine: (a: string, b: string) => `${a} in line with ${b}`,
    order: (a: string, relation: string, b: string) =>
      `${a} ${RELATIONS[relation as keyof typeof RELATIONS] ?? relation} ${b}`,
    seen: (what: string) => `${capital(what)} shows`,
    hidden: (what: string) => `${capital(what)} does not show`,
    distance: (what: string, length: string) => `${capital(what)}, ${length} away`,
    size: (length: string) => `Known size, ${length}`,
    offeredRidge: "Ridge line, offered by machine",
    hour: (hour: string, day: string) => `Hour known, ${hour}${day ? ` on ${day}` : ""}`,
    season: (sign: string) => `Sign of the season: ${sign}`,
    face: (looks_deg: number, lit: boolean) =>
      `Face looking ${Math.round(looks_deg)}°, ${lit ? "lit by the sun" : "in its own shade"}`,
    making: (clue: string) => `Sign of its making: ${clue}`,
    reading: (reads: string) => capital(reads),
    blur: (moving: string) => `Blur: ${moving}`,
    kinds: {
      camera: "Camera",
      changed_ground: "Ground that changed",
      hidden: "Hidden",
      in_line: "In line",
      known_distance: "Known distance",
      known_size: "Known size",
      order: "Order",
      plumb_edge: "Upright edge",
      ridge_line: "Ridge line",
      sea_horizon: "Sea horizon",
      seen: "Seen",
      skyline: "Skyline",
      water_level: "Water level",
      blur: "Blur",
      hour: "Hour known",
      lit_face: "Face lit or not",
      making: "Sign of its making",
      reading: "Left or right",
      season: "Sign of the season",
      shadow: "Shadow",
      shadow_edge: "Shadow of a wall",
    },
  },
  known: {
    size: "How long it is",
    distance: (letter: string) => `How far off ${letter} stood`,
    lies: "It",
    upright: "stands upright",
    across: "lies square to the view",
    stands: "Where it stands, if known",
    tieFirst: (letter: string) =>
      `${letter} is not tied to the map yet, and a distance is one to a place. Tie it first.`,
    keep: "Keep it",
  },
  item: {
    byMachine: "Offered by the machine: it counts little until a person says it is a ridge.",
    isRidge: "It is a ridge",
    lies: "It",
    touching: "One touches or hides the other",
    touchingWhy: "Judged across a gap, the camera’s lean adds doubt; that is counted.",
    lean: "May itself lean by",
    markSd: "Each mark, give or take",
    rise: "The ground rises by",
    riseTowards: "Towards, from true north",
    slopeSd: "That slope, give or take",
    wallRuns: "The wall runs, from true north",
    looks: "It looks to, from true north",
    waterHeight: "Height of the water, if known",
    seaHeight: "Height of the sea",
    length: "How long it is",
    lengthSd: "Give or take",
    distance: "How far away",
    distanceSd: "Give or take",
    trust: "How probable it is right, 0 to 1",
    source: "Who says so",
    note: "Note",
    notBlind: "Read while what was computed showed: it counts less as evidence of its own.",
  },

  plans: {
    title: "What is done with the plan",
    which: "Which plan",
    another: "Add a plan",
    how: "A survey plan, a parish map, a phone picture of a folded sheet: PDF, TIFF, JPEG or PNG. The file is copied in and never changed. Then you pin it: show the same corner on the plan and on the map, four times or more.",
    page: "Page of the plan, if the file has several",
    drop: "Drop a plan here",
    sheet: (title: string) => `Plan: ${title}`,
    doing: "What to do with it",
    does: { look: "Look", pin: "Pin", trace: "Trace" },
    why: { put: "pin put", moved: "pin moved", taken: "pin taken away", fit: "fit chosen" },
    standing: (pins: number, told: { shared_shift_sd_m: number } | null) =>
      pins === 0
        ? "Not pinned to the ground yet."
        : told
          ? `${capital(plural(pins, "pin"))} hold it; all of it may be shifted by some ${digits(told.shared_shift_sd_m, 2)} m.`
          : `${capital(plural(pins, "pin"))}, not enough to hold it yet.`,
    next: (sheet: boolean, ground: boolean, plan: boolean) =>
      sheet
        ? `Now click the same spot on the ${plan ? "other plan" : "map"}.`
        : ground
          ? "Now click the same spot on the plan."
          : `Click a corner on the plan, then the same corner on the ${plan ? "other plan" : "map"}. Corners that stand to this day are best, all round what you want to read.`,
    onto: "Where you show the same spot",
    pins: "Pins, and what is left over at each",
    pin: "Pin",
    leftOver: "Left over",
    mayBe: "9 in 10 within",
    takeAway: (name: string) => `Take pin ${name} away`,
    pinAt: (name: string, where: "sheet" | "map", told: string) =>
      `Pin on the ${where === "sheet" ? "plan" : "map"}: ${name}${told ? ` · ${told}` : ""}; arrow keys move it, Delete takes it away`,
    off: (off_m: number, units: Units): string =>
      off_m < 0.05 ? `under ${length(0.1, units, 1)}` : length(off_m, units, 2),
    left: (pin: { counts: boolean; left_over_m: number | null }, off: string): string =>
      pin.left_over_m === null ? "" : `${pin.counts ? "off by" : "set aside, off by"} ${off}`,
    blunder: (name: string, off: string) =>
      `Pin ${name} does not fit the others: it is ${off} off and counts nothing. Look at it again: is it the same corner on both?`,
    foretold: (inside: number, tried: number) =>
      tried === 0
        ? "No pin is over by which the others could be tested: put more."
        : `Each pin was left out and foretold by the others: ${inside} of ${tried} lay where they said it would, give or take what they said.`,
    fit: "How the sheet may differ from the ground",
    byNumber: "as the pins allow",
    fits: {
      similarity: "turned and scaled (2 pins)",
      affine: "stretched as well (3 pins)",
      projective: "askew as well (4 pins)",
      bending: "bent to every pin (12 pins)",
    },
    mirrored: "The sheet is seen from behind",
    expected: (off: string) => `a place here is known to ${off}, 9 times in 10`,
    onMap: "Lay it on the map",
    onPlate: "Show what was traced on the plate",
    onPlateTold: (
      told: { fix: string | null; caution: string; things: unknown[]; beyond: number } | null,
    ) =>
      told === null
        ? ""
        : told.fix === null
          ? "Where it shows on the plate can be told once the camera’s place was looked for."
          : [
              told.things.length
                ? `${capital(plural(told.things.length, "thing"))} on the plate, as wide as the doubt of where it shows.`
                : "Nothing traced shows on this plate yet.",
              told.beyond ? `${capital(plural(told.beyond, "thing"))} beyond its edges.` : "",
              told.caution,
            ]
              .filter(Boolean)
              .join(" "),
    trace: {
      how: {
        line: "Click along the line on the plan; double click or the button keeps it.",
        outline: "Click round the outline on the plan; double click or the button keeps it.",
        point: "Click the spot on the plan, then keep it.",
      },
      what: "What it is",
      unnamed: "line of a plan",
      kinds: ["fence", "corner", "wall", "shore", "track", "bush edge", "stream", "building"],
      shape: "It is",
      shapes: { line: "a line", outline: "an outline", point: "a point" },
      drawn: "On the plan it is",
      surveyed: "surveyed",
      sketched: "sketched",
      from: "Stood since",
      to: "Stood until",
      keep: "Keep it",
      back: "Take back the last point",
      list: "Traced from this plan",
      told: (drawn: string, sd: string) => `${drawn}, give or take ${sd}`,
      kept: (what: string, sd_m: number) =>
        `Kept: ${what}, give or take ${digits(sd_m, 2)} m beside the shift of the whole plan.`,
    },
  },

  map: {
    label: "Map of the ground; arrow keys move it",
    opening: "Opening the terrain. The first time takes some seconds.",
    north: "N",
    tools: "What the pointer does on the map",
    toolNames: {
      move: "Move",
      stand: "Stand here",
      circle: "Circle",
      outline: "Outline",
      said: "What is said",
      measure: "Measure",
    },
    toolHow: {
      move: "Drag the map",
      stand: "Click where the camera may have stood; the horizon strip follows",
      circle: "Drag from the middle outwards: the ground searched",
      outline: "Click the corners of the ground searched; double click closes it",
      said: "Click a place that a source names: a point, a way or the corners of ground; double click completes it",
      measure: "Click two points",
    },
    complete: "Complete",
    relief: "Relief",
    reliefs: { hillshade: "Hill shade", slope: "Slope", height: "Height", none: "No relief" },
    contours: "Contours",
    fit: "Ground searched and camera",
    backToAnswer: "Back to the answer",
    byHand: "Placed by hand",
    tying: "Click the feature, or the place where it stands",
    feature: (what: string, letter: string | undefined) =>
      letter ? `${what}, tied to ${letter}` : what,
    seen: "It shows on the plate",
    hidden: "It does not show",
    saidOf: { seen: "Noted: it shows.", hidden: "Noted: it does not show." },
    place: (name: string, odds: string) => [name, odds].filter(Boolean).join(", "),
    station: (byHand: boolean, looks: string) =>
      `Camera position${byHand ? ", placed by hand" : ""}, looks towards ${looks}; arrow keys move it, comma and full stop turn it`,
  },
  said: {
    title: "What a source says of this place",
    placeholder: "taken from the road above the mill",
    places: {
      inside: "inside it",
      within: "within some distance of it",
      along: "along it",
      "on top of": "on top of it",
      from: "from it",
    },
    keep: "Keep it",
  },
  layers: {
    title: "What lies on the map",
    call: "Layers",
    features: (count: number) => `Features (${count})`,
    plans: "Old plans",
    noPlans:
      "None yet. A plan that was pinned to the ground lies here over the hills, as strongly as you like.",
    dropPlan:
      "Drop a plan here that says where it lies: a GeoTIFF. Others are pinned beside the plate.",
    opacity: "How strongly it shows",
    bring: "Bring features",
    dropFeatures: "Drop GeoJSON, GeoPackage, KML, GPX, CSV or a shapefile, here or on the map",
    taken: (added: number, there: number, refused: string[]) =>
      [
        added ? `${capital(plural(added, "feature"))} brought.` : "No new feature in it.",
        there ? `${capital(plural(there, "feature"))} of it the daybook has already.` : "",
        refused.length ? `${capital(plural(refused.length, "line"))} left out: ${refused[0]}` : "",
      ]
        .filter(Boolean)
        .join(" "),
    unknown:
      "That is not read as features, a plan or terrain. GeoJSON, GeoPackage, KML, GPX, CSV, a shapefile or a GeoTIFF is.",
    whatIsIt: "What is it that you dropped?",
    aPlan: "An old plan",
    aTerrain: "Terrain",
    base: {
      title: "Base map",
      none: "None is set, and none is needed.",
      set: "Set one",
      change: "Set another",
      came: (host: string) =>
        `This daybook names a base map at ${host}. Nobody on this machine has set it: its host would learn which ground you look at.`,
      agree: "Let it be asked",
      why: "It is fetched by the program on your machine, from this one address, and kept in the daybook’s folder. Its host learns which ground you look at.",
      kind: "What it is",
      kinds: { xyz: "Tiles by level, column and row", wmts: "WMTS, by its capabilities document" },
      address: "Address",
      placeholder: {
        xyz: "https://tiles.example/{z}/{x}/{y}.png",
        wmts: "https://maps.example/WMTSCapabilities.xml",
      },
      credit: "Credit line",
      use: "Use it",
      without: "Do without",
    },
  },
  noGround: {
    where: "Where may it have been taken?",
    whereHow: "Longitude, latitude and how far around. A rough circle will do.",
    unread: "That is not two coordinates and a length.",
    unreadRemedy:
      "Write 7.1, 46.2, 3 km or 46° 12′ N 7° 6′ E, 2 miles; or draw a circle on the grid below.",
    grid: "Blank grid of longitude and latitude: drag to draw a rough circle",
    circle: (radius: string) => `A circle of ${radius} about its middle.`,
    gridHow: "Drag a rough circle on the grid. Scroll to come nearer.",
    needed: "Which terrain to get",
    terrain: "Then bring the terrain",
    drop: "Drop elevation files, a folder of them, or a zip",
  },

  strip: {
    named: { 0: "North", 90: "East", 180: "South", 270: "West" } as Record<number, string>,
    looks: (bearing: string) => `looks towards ${bearing}`,
    whose: {
      hand: "placed by hand",
      answer: "as the answer has it",
      nobody: "from the middle of the ground searched, held as usual",
    },
    apart: (deg: number) => `lines ${deg.toFixed(2)}° apart on average`,
    allRound: "All round",
    turn: "Bearing of the camera; arrow keys turn it, Shift by five degrees, Alt finely",
    noGround: "The strip needs terrain. Open the map, and it says which.",
    nothing:
      "Call the map and click where the camera may have stood: the strip shows the horizon from there.",
  },

  where: {
    empty: "Here stands where the camera may have been, how sure that is, and because of what.",
    cannot: "Not yet",
    run: "Find where the camera stood",
    runAgain: "Find it again",
    runWithout: "Find it without these",
    allBack: "Put all back",
    nearEnough: "Near enough",
    nearEnoughWhy: (metres: string) => `The answer counts as found when it is good to ${metres}.`,
    withoutStatements: "Without what captions and sources say",
    switchedOff: (count: number) =>
      `${capital(plural(count, "item"))} switched off for the next run.`,
    leftOut: (count: number) => `${capital(plural(count, "item"))} tell nothing yet`,
    answer: "The answer",
    verdicts: {
      located: "The camera stood here.",
      "several places": "Several places fit.",
      "not determined": "This can’t be told yet.",
    },
    short: {
      located: "located",
      "several places": "several places",
      "not determined": "can’t tell yet",
    },
    stood: "Stood at",
    looked: "Looked towards",
    likeliest: "Likeliest point",
    looking: "Looking towards",
    height: "Lens height",
    within: (length: string) => `give or take ${length}`,
    allWords: "All it says",
    moreChanged: (count: number) => `${capital(plural(count, "more change"))} since`,
    places: "Places that fit",
    offFirst: (length: string, towards: string) => `${length} ${towards} of the first`,
    spread: (share: number) =>
      `The other ${percent(share)} is spread over the rest of the ground searched, or lies outside.`,
    placesTold: (count: number) => plural(count, "place"),
    oddsOf: (odds: string, probability: number) => `${capital(odds)} (${percent(probability)})`,
    looksTowards: (bearing: string) => `looks towards ${bearing}`,
    contributes: "What each thing contributes",
    contributesHow: "How far the answer would move without it. Switch one off, and find it again.",
    columns: { what: "Without", moves: "it moves", counts: "counts" },
    stays: "stays",
    counts: (name: string) => `${name} counts`,
    things: (count: number) => plural(count, "thing"),
    oneThing: "The answer rests on one thing alone, so nothing can be left out.",
    next: "What to look for next",
    hints: (count: number) => plural(count, "hint"),
    noAdvice: "Nothing that is known of here would shrink the doubt much.",
  },
  proposed: {
    title: "Somebody’s answer",
    empty:
      "A catalogue or a person says where it was taken? Put it here, and it is tested like everything else.",
    somebody: "Somebody",
    add: "Add somebody’s answer",
    by: "Whose",
    place: "Longitude, latitude",
    none: "none yet",
    wrongPlace:
      "That is not read as two coordinates. Write longitude, then latitude: 7.1234, 46.2345.",
    fromMap: "Take the place chosen on the map",
    doubt: "Good to",
    reason: "Why, in their words",
    addIt: "Add",
    untested: "Not tested yet.",
    test: "Test it",
    verdicts: {
      fits: "It fits.",
      "fits poorly": "It fits poorly.",
      impossible: "It can’t be.",
    },
  },
  decision: {
    title: "What a person decided",
    none: "nobody yet",
    decide: "Decide",
    again: "Decide anew",
    conclude: "I conclude",
    conclusions: {
      accepted: "accepted",
      "accepted with conditions": "accepted with conditions",
      rejected: "rejected",
    },
    conditions: "On what conditions",
    onCondition: (conditions: string) => `On condition: ${conditions}`,
    why: "Why, in your words",
    signed: (person: string) =>
      `It is kept under your name${person ? `, ${person}` : ""}, beside the tool’s answer and apart from it.`,
    record: "Record it",
    by: (conclusion: string, person: string, when: string) =>
      `${capital(conclusion)}, ${person}, ${when}`,
  },
  runs: {
    title: "Runs",
    count: (count: number) => plural(count, "run"),
    compare: "Set beside",
    onMap: "On the map the other run is drawn in grey.",
    putAway: "Put it away",
  },

  against: {
    title: "The terrain’s view",
    ways: { over: "Over", swipe: "Swipe", beneath: "Instead of the plate", beside: "Beside" },
    opacity: "How much of it shows",
    swipeLabel: "Where the terrain’s view begins",
    drawing: "Drawing the terrain from there…",
    picture: "Shaded picture of the terrain as the camera would see it",
    ground: "The terrain’s view",
    byHand: "A match placed by hand: it proves nothing by itself.",
    fromAnswer: "From the answer’s camera position",
    noAnswer:
      "No answer yet: the camera stands in the middle of the ground searched, held as usual.",
    hold: "Turn or tilt the camera",
    bearing: (bearing: string) => `Looks towards ${bearing}`,
    tilt_deg: (deg: number) => `Tilt ${deg.toFixed(2)}°`,
    roll_deg: (deg: number) => `Roll ${deg.toFixed(2)}°`,
    lensAbove: (length: string) => `Lens ${length} above ground`,
    difference: "Along the skyline",
    differenceLabel: (most: number) =>
      `How far the traced skyline lies above the computed one, up to ${most.toFixed(0)} px`,
    differenceSays: (rms: number | null, most: number) =>
      `Traced line above (up) or below the computed one${rms === null ? "" : `: ${digits(rms, 2)} px on average`}, ${digits(most, 2)} px at most.`,
    differencePress: "Press to show that spot on the plate",
    above: (px: number) => `above, ${digits(px, 2)} px`,
    below: (px: number) => `below, ${digits(px, 2)} px`,
    names: "Hills and features",
    onPlate: "Numbers on the plate",
    withHidden: "Also what hills hide",
    hidden: "hidden",
    hiddenBy: (length: string) => `hidden by ${length}`,
    looking: "Looking for what stands in this view…",
    noNames:
      "Nothing with a name lies in this view. Features come in with the map, or from a gazetteer.",
  },

  when: {
    intro:
      "When the plate was exposed: bounds with their sources, as written. Not before and not after are enough to begin with.",
    timeLine: "What is said, on a line of years",
    timeLineSays: (rows: string[]) => `On a line of years: ${rows.join("; ")}.`,
    says: (date: string, said: string | null) => (said ? `${date}: ${said}` : date),
    result: "What follows from all of it",
    nothing:
      "Nothing dates this plate yet. Write a date or a bound below, or what a source says of the date. The working years of its maker count too, and things seen that are tied to features with known years.",
    curve: "How probable every month is.",
    nineTenths: "9 in 10",
    oneHalf: "1 in 2",
    nine: (span: string) => `Nine in ten: ${span}.`,
    half: (span: string) => `One in two: ${span}.`,
    contradict: (names: string[]) =>
      `No month fits all that is held for certain${names.length ? `. These cannot be so together: ${names.join(" · ")}` : ""}. Doubt one of them, or look whether it dates what it is taken to date.`,
    contributes: "What each thing contributes",
    without: (span: string | null) =>
      span ? `Without it, nine in ten: ${span}.` : "Without it no month fits either.",
    right: (odds: string) => `Right: ${odds}.`,
    atOdds: (names: string[]) => `Cannot be so together with: ${names.join(" · ")}`,
    short: (text: string) => (text.length > 60 ? `${text.slice(0, 59).trimEnd()}…` : text),
    quoted: (said: string) => `“${said}”`,
    next: "What to look for next",
    narrows: (now: number, then: number) =>
      `${plural(Math.round(now), "month")} would become some ${Math.round(then)}.`,
    leftOut: "What does not count",
    dates: "Dates and bounds",
    noDates:
      "No date yet. Write one as people write them: c. 1880, summer 1879, between 1875 and 1882.",
    addDate: "Add a date",
    edtf: "Date",
    edtfLike: "c. 1880, summer 1879, between 1875 and 1882",
    of: "It says",
    fromWords: "The words it was read from",
    trust: "How probable it is right, 0 to 1",
    note: "How it was read",
    line: (of: string | null, edtf: string) => [of, edtf].filter(Boolean).join(" "),
    said: "What sources say of the date",
    noSaid:
      "Nothing yet. Copy the words of a caption, an album or a newspaper as they stand; then say which date they mean, and they count.",
    addSaid: "Add what a source says",
    words: "Its words, as written",
    means: "The date it means",
    weight: "How probable it is right, 0 to 1",
    stamp: (iso: string) => iso.slice(0, 16).replace("T", " "),
  },
  sunClock: {
    title: "The sun: days by hours",
    says: (all: string) => `Days of the year by hours of the day, local mean time. ${all}`,
    months: ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
    legend: "What the lines are",
    level: "Sunrise and sunset on the level",
    hills: "The sun on the hills",
    bearing: "The sun in the shadow’s line",
    height: "The sun as high as the shadow says",
    marks: "Nine in ten by the shadows alone",
    date: "Nine in ten, and half, with the date",
    showMap: "Show the sun on the map",
    showPlate: "Show the plate",
  },
  shows: {
    title: "What the picture itself shows",
    empty:
      "Nothing is kept yet. A shadow tells the hour and the season, leaf or snow the months, a clock in the picture checks the camera’s bearing.",
    markShadow: "Mark a shadow on the plate",
    setAside: (what: string) => `Set aside: ${what}`,
    sign: "Add a sign of the season",
    hour: "Add an hour that is known",
    clock: "Its clock",
    clocks: {
      "local mean": "Local mean time",
      "by the sun": "By the sun, as on a dial",
      zone: "A zone’s time",
    },
    zone: "Hours ahead of universal time",
    day: "Day, if known (EDTF)",
    looks: "Add a face: it looks to, degrees",
    lit: "The sun",
    isLit: "falls on it",
    isNot: "does not",
  },
  making: {
    title: "How it was made",
    clue: "Add what glass and coat show",
    reads: "Add what tells left from right",
    minutes: "Minutes between plates of the panorama",
    ways: (maker: string) => `The ways of ${maker}`,
    by: "Went by",
    map: (stops: string[]) => `Plates in order of their dates: ${stops.join("; ")}.`,
    scale: (km: number) => `${km} km`,
  },
  leads: {
    intro: "What to look up, who was asked, what was found, and what was not.",
    states: {
      "to do": "To do",
      asked: "Asked",
      answered: "Answered",
      "nothing found": "Nothing found",
      "given up": "Given up",
    },
    empty: "No leads yet. An old plan, a newspaper, a neighbour: write down what could be asked.",
    add: "Add a lead",
    addIn: (state: string) => `Add one: ${state.toLowerCase()}`,
    what: "What to look up or ask",
    where: "Where, or whom",
    state: "State",
    outcome: "What came of it, or was looked through",
    because: "Given up because",
    due: "By when",
    said: "What sources say of place and maker",
    noSaid: "Nothing yet.",
    addSaid: "Add what a source says",
    place: "How the camera stood to the place named",
    within: "How far the words reach",
  },
  requests: {
    title: "What was asked of you",
    empty: "No request yet. Who wants to know, how close it must be, and by when.",
    add: "Add a request",
    question: "What exactly is asked",
    askedBy: "Who asks",
    answer: "What was answered",
    terms: "Terms on which things were lent",
    contact: "How to reach them",
    belongs: "This plate belongs to",
    none: "no request",
  },
  visit: {
    notLocated:
      "The answer does not settle where the camera stood: this is only the likeliest point. Where shows the others.",
    intro: "For standing on the spot again.",
    empty:
      "Once there is an answer, the field sheet stands here: where to stand, which way to look, which lens to take.",
    sheet: "Field sheet",
    wide: "Sees as wide as",
    lens: "A modern lens",
    lensSays: (mm: number) => `about ${mm} mm on a 35 mm frame, held level`,
    care: "A position is not a route, and nothing here says that it is safe or permitted. Ask first; stand still to look at a screen; never step backwards to line up.",
    print: "Print this page",
    read: "What was read on the spot",
    noRead: "Nothing noted yet.",
    addRead: "Add what you read or saw there",
  },
  handOver: {
    intro: "What leaves the daybook, on whose terms, and what was done.",
    files: "The answer as files",
    noFix: "No answer yet. Find one in Where, and its files can be had here.",
    fixJson: "The answer (fix.json)",
    pictures: {
      "map.png": "Map",
      "comparison.png": "Against the ground",
      "checks.png": "What each thing contributes",
    },
    rights: "Rights",
    noRights: "Not noted. Unknown rights print as UNKNOWN; old does not mean free.",
    addRight: "Add who holds rights in the",
    rightIn: "A right in",
    holder: "Who holds it",
    licence: "Licence",
    credit: "Credit line",
    terms: "Terms of use",
    mayBe: "May be published",
    rightLine: (what: string | null, holder: string | null, licence: string | null) =>
      [what, holder ?? "UNKNOWN", licence ?? "UNKNOWN"].filter(Boolean).join(" · "),
    restrictions: "Care of people and places",
    noRestrictions: "None. A burial ground, a private garden or a picture may need some.",
    addRestriction: "Publish its place no closer than",
    precision: "How closely its place may be published",
    covered: "Cover the picture until somebody asks to see it",
    isCovered: "covered",
    because: "Why",
    askedBy: "Who asked for it",
    until: "Until when",
    journal: "History",
  },
  handOut: {
    title: "Hand out",
    how: "As files that mapping programs, globes, catalogues, viewers and browsers take over, in one zip.",
    forWhom: "For whom",
    public: "Everybody: what a person accepted, each place no closer than it may be published",
    full: "Those who may know every place: all as it is known, restricted",
    which: "Which plates",
    plates: { this: "This plate", all: "All plates of the daybook", chosen: "Some, chosen here" },
    forms: "In which forms",
    allForms: "All of them",
    noForms: "None",
    pictures: "Pictures go along",
    called: "What the whole is called (may stay empty)",
    address: "Where it will be on the web, for viewers (may stay empty)",
    look: "What would go out?",
    would: (plates: number, places: number, withheld: number, audience: "public" | "full") =>
      `${plates === 1 ? "One plate" : `${plates} plates`}, a place told of ${places}${
        audience === "public" ? `, ${withheld} only roughly or not at all` : ""
      }.`,
    restricted: "Restricted: hand it to nobody who may not know every place in it.",
    more: (count: number) => `… and ${count} more.`,
    givesAway:
      "A picture itself may still give its place away. If a place must not be found, do not publish its picture.",
    broken: "This would break what is noted as terms:",
    leaveOut: "Go on without these",
    make: "Make the zip",
    save: "Save the zip",
    busy: "Working…",
  },
  merge: {
    title: "Somebody else’s copy",
    how: "Two people worked on copies of this daybook? Choose the other copy’s folder: first it says what would come, and nothing is lost of either.",
    would: (folder: string) => `${folder}, if it is merged:`,
    merge: "Merge it",
    done: (folder: string) => `Merged: ${folder}`,
    busy: "Comparing the two…",
  },
  settings: {
    title: "This daybook",
    units: "Lengths in",
    unit: {
      metric: "metres",
      feet: "feet and miles",
      yards: "yards and miles",
      chains: "chains and miles",
    },
    person: "Your name, beside what you write",
    guide: "Show the four steps again",
  },

  keys: {
    title: "Keys",
    single: "Single letters and digits are keys (not where you speak to the machine)",
    groups: {
      everywhere: "Everywhere",
      sheet: "On plate and map",
      beside: "What stands beside and below",
      looking: "At the plate",
      where: "Where",
      plates: "Contact sheet",
    },
    named: {
      ArrowLeft: "← → ↑ ↓",
      ArrowRight: "← → ↑ ↓",
      Escape: "Esc",
      Delete: "Del",
    },
  },
} as const;
