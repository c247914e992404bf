/** @file Every word on the screens, in English; another language is another file like this.
 *
 * One word per thing, as in docs/nomenclature.md, in its plainer form where it has one. Odds
 * are said in words beside numbers, and lengths with their doubt.
 */
import { digits } from "./units";

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
  },

  guide: {
    title: "Four steps",
    finished: "That is the whole way",
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
    sorts: { key: "number", title: "title", date: "date", newest: "newest first" },
    any: "any",
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
  },

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
    ["Enter", "Set a point at the crosshair; begin or end a stroke; complete a line"],
    ["+", "Nearer"],
    ["-", "Farther"],
    ["0", "All of it"],
    ["Delete", "Set aside the letter that has the focus"],
    [",", "Turn the camera left, where its sign has the focus"],
    [".", "Turn it right"],
  ] as const,

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
    drawer: "What is being worked on",
    shelf: "Tools",
    tools: {
      hand: "Move",
      letter: "Letter",
      skyline: "Skyline",
      ridge: "Ridge line",
      upright: "Upright edge",
      water: "Water level",
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
    waterHeight: "Height of the water, if known",
    seaHeight: "Height of the sea",
    length: "How long it is",
    lengthSd: "Give or take",
    distance: "How far away",
    distanceSd: "Give or take",
    trust: "How probable it is right, 0 to 1",
    source: "Who says so",
    note: "Note",
    notBlind: "Read while the computed horizon showed: it counts less as evidence of its own.",
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
    dropPlan: "Drop a plan here: a GeoTIFF, which says where it lies",
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
    whereHow:
      "Longitude, latitude and how far around, or west, south, east, north. A rough circle will do.",
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
    height: "Lens height",
    within: (length: string) => `give or take ${length}`,
    allWords: "All it says",
    places: "Places that fit",
    oddsOf: (odds: string, probability: number) => `${capital(odds)} (${percent(probability)})`,
    looksTowards: (bearing: string) => `looks towards ${bearing}`,
    contributes: "What each thing contributes",
    contributesHow: "How far the answer would move without it. Switch one off, and find it again.",
    columns: { what: "Without", moves: "it moves", counts: "counts" },
    stays: "stays",
    counts: (name: string) => `${name} counts`,
    oneThing: "The answer rests on one thing alone, so nothing can be left out.",
    next: "What to look for next",
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
    compare: "Set beside",
  },

  against: {
    title: "The terrain’s view",
    ways: { over: "Over", swipe: "Swipe", beneath: "Beneath the lines", beside: "Beside" },
    opacity: "How much of it shows",
    swipeLabel: "Where the terrain’s view begins",
    drawing: "Drawing the terrain from there…",
    picture: "Shaded picture of the terrain as the camera would see it",
    ground: "The terrain’s view",
    byHand: "A match placed by hand: it proves nothing by itself.",
    fromAnswer: "From the answer’s camera position",
    noAnswer:
      "No answer yet: the camera stands in the middle of the ground searched, held as usual.",
    hold: "Hold the camera otherwise",
    bearing: (bearing: string) => `Looks towards ${bearing}`,
    tilt_deg: (deg: number) => `Tilt ${deg.toFixed(2)}°`,
    roll_deg: (deg: number) => `Roll ${deg.toFixed(2)}°`,
    lensAbove: (length: string) => `Lens ${length} above ground`,
    difference: "Along the skyline",
    differenceLabel: (most: number) =>
      `How far the traced skyline lies above the computed one, up to ${most.toFixed(0)} px`,
    differenceSays: (rms: number | null, most: number) =>
      `Traced line above (up) or below the computed one${rms === null ? "" : `: ${digits(rms, 2)} px on average`}, ${digits(most, 2)} px at most.`,
    names: "Hills and features",
    onPlate: "Numbers on the plate",
    withHidden: "Also what hills hide",
    hidden: "hidden",
    hiddenBy: (length: string) => `hidden by ${length}`,
    noNames:
      "Nothing with a name lies in this view. Features come in with the map, or from a gazetteer.",
  },

  when: {
    intro:
      "When the plate was exposed: bounds with their sources, as written. Not before and not after are enough to begin with.",
    timeLine: "Dates on a line of years",
    dates: "Dates and bounds",
    noDates: "No date yet. Write one as you found it: 1880~ is about 1880, 1875/1882 is between.",
    addDate: "Add a date",
    edtf: "Date (EDTF)",
    of: "It says",
    fromWords: "The words it was read from",
    trust: "How probable it is right, 0 to 1",
    note: "How it was read",
    line: (of: string | null, edtf: string) => [of, edtf].filter(Boolean).join(" "),
    said: "What sources say of the date",
    noSaid: "Nothing yet.",
    addSaid: "Add what a source says",
    words: "Its words, as written",
    means: "The date it means (EDTF)",
    weight: "How probable it is right, 0 to 1",
    sun: "Sun and shadow follow once the camera position is settled.",
    stamp: (iso: string) => iso.slice(0, 16).replace("T", " "),
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
  visit: {
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
    addRight: "Add a right in",
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
    addRestriction: "Publish the place to",
    precision: "How closely its place may be published",
    covered: "Cover the picture until somebody asks to see it",
    isCovered: "covered",
    because: "Why",
    askedBy: "Who asked for it",
    until: "Until when",
    journal: "History",
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
    groups: {
      everywhere: "Everywhere",
      sheet: "On plate and map",
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
