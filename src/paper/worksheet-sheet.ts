import type { WorksheetShape } from '../schemas/worksheets.js'
import {
  decimalsShowing,
  figureText,
  rounded,
  signed,
  trimmed,
  twoDigits,
  uncertaintyText,
  valueText,
} from './numbers.js'
import { printable } from './printable.js'
import type { Block, Column, Fact, Link, Section, Sheet } from './sheet.js'

type Path = WorksheetShape['paths'][number]
type Speed = Path['table'][number]['true']
type PerDistance = Path['output']
type Input = WorksheetShape['measured'][number]
type Remedy = WorksheetShape['remedies'][number]

/** Remedies printed for each path; the rest rank lower. */
const MAX_REMEDIES = 5

const SPEED_UNITS = {
  mph: [
    { key: 'mph', name: 'mph' },
    { key: 'kmh', name: 'km/h' },
  ],
  kmh: [
    { key: 'kmh', name: 'km/h' },
    { key: 'mph', name: 'mph' },
  ],
} as const

const VERDICTS = {
  conforms: 'allowed',
  'does-not-conform': 'not\u{A0}allowed',
  'not-proven': 'not\u{A0}proven',
} as const

const LEVELS = { fail: 'Fail', caution: 'Caution', info: 'Info' } as const

const BASES = {
  computed: 'tire and drive parts',
  'measured-output': 'turns or pulses counted on the road',
  'measured-reading': 'calibrated readings',
} as const

const STANDINGS = {
  published: 'published',
  'from-memory': 'published, quoted from memory',
  'common-practice': 'common practice',
  derived: 'derived',
  user: 'as stated, not measured',
  measured: 'measured',
} as const

const KINDS = {
  wheel: '',
  'final-drive': 'final drive',
  'gear-pair': 'gear pair',
  'angle-drive': 'angle drive',
  adapter: 'ratio adapter',
  'transfer-case': 'transfer case',
  'pulse-ring': 'pulse ring',
  'pulse-scaler': 'pulse scaler',
  head: 'head',
} as const

const left = (head: string, wide = false): Column => ({ head, align: 'left', ...(wide ? { wide } : {}) })
const right = (head: string): Column => ({ head, align: 'right' })

/** A value, its uncertainty where it has one, and its unit, with no line break between them. */
const withUnit = (text: string, unit: string) => `${text}\u{A0}${unit}`

/** A speed in both units, the dial's unit first. */
const speedText = (speed: Speed, unit: Path['unit']) =>
  SPEED_UNITS[unit]
    .map(({ key, name }) => withUnit(figureText(speed[key], speed.plusMinus?.[key], 1), name))
    .join(', ')

/** The resolution of a display in both units. */
const stepText = (step: Speed, unit: Path['unit']) =>
  SPEED_UNITS[unit].map(({ key, name }) => withUnit(twoDigits(step[key]), name)).join(', ')

const perDistanceText = ({ perKm, perMile, plusMinus }: PerDistance, what: string) => [
  withUnit(figureText(perKm, plusMinus?.perKm, 1), `${what}/km`),
  withUnit(figureText(perMile, plusMinus?.perMile, 1), `${what}/mile`),
]

function chain({ chain: links, name }: Path): Block {
  return {
    kind: 'chain',
    caption: `From the wheel to the dial: ${name}`,
    links: links.map((link): Link => {
      const flow =
        link.turns === undefined
          ? link.pulses === undefined
            ? []
            : perDistanceText(link.pulses, 'pulses')
          : perDistanceText(link.turns, 'turns')
      const ratio =
        link.ratio === undefined ? '' : `× ${figureText(link.ratio.value, link.ratio.plusMinus, 4)}`
      const lines = [KINDS[link.kind], link.setting, ratio].filter((line) => line !== '')
      return { name: link.name, lines, flow }
    }),
  }
}

/** Cable speed or pulse frequency of a row. */
function rateOf(
  { rpm, frequency }: Pick<Path['table'][number], 'rpm' | 'frequency'>,
  withUncertainty: boolean,
) {
  const text = withUncertainty ? figureText : valueText
  if (rpm !== undefined) return text(rpm.rpm, rpm.plusMinus?.rpm, 0)
  return frequency === undefined ? '' : text(frequency.hz, frequency.plusMinus?.hz, 1)
}

const rateHead = (path: Path) => (path.pulses === undefined ? 'Cable\nrpm' : 'Pulses\nHz')

function speedTable(path: Path): Block {
  const [own, other] = SPEED_UNITS[path.unit]
  return {
    kind: 'table',
    caption: `True and indicated speed, error and its uncertainty (95 %): ${path.name}`,
    columns: [
      right(`True\n${own.name}`),
      right(`True\n${other.name}`),
      right(`Dial\n${own.name}`),
      right(`Dial\n${other.name}`),
      right(`Error\n${own.name}`),
      right(`Error\n${other.name}`),
      right('Error\n%'),
      right(`±\n${own.name}`),
      right(`±\n${other.name}`),
      right(rateHead(path)),
      left('Verdict'),
    ],
    rows: path.table.map((row) => {
      const { indicated, error } = row
      const verdict = row.verdicts?.[0]
      // The indicated speed gets as many decimals as its error.
      const shown = (speed: Speed | undefined, key: 'mph' | 'kmh') =>
        speed === undefined
          ? ''
          : valueText(speed[key], speed.plusMinus?.[key], decimalsShowing(error?.[key] ?? 0, 1))
      const percentUncertainty =
        error?.plusMinus === undefined ? undefined : (100 * error.plusMinus.kmh) / row.true.kmh
      return [
        trimmed(row.true[own.key], 1),
        trimmed(row.true[other.key], 1),
        shown(indicated, own.key),
        shown(indicated, other.key),
        signed(shown(error, own.key)),
        signed(shown(error, other.key)),
        row.errorPercent === undefined
          ? ''
          : signed(valueText(row.errorPercent, percentUncertainty, decimalsShowing(row.errorPercent, 1))),
        uncertaintyText(error?.plusMinus?.[own.key]),
        uncertaintyText(error?.plusMinus?.[other.key]),
        rateOf(row, false),
        verdict === undefined ? 'no\u{A0}limit\u{A0}here' : VERDICTS[verdict.result],
      ]
    }),
  }
}

function benchTable(path: Path): Block {
  const [own, other] = SPEED_UNITS[path.unit]
  const rule = path.bench.find(({ tolerances }) => tolerances.length > 0)?.tolerances[0]?.title
  return {
    kind: 'table',
    caption: `On the bench, head alone: ${path.name}${rule === undefined ? '' : `; allowed by the rule (${rule})`}`,
    columns: [
      right(`Mark\n${own.name}`),
      right(`Mark\n${other.name}`),
      right(rateHead(path)),
      right(`Shows\n${own.name}`),
      right('Allowed'),
      left('Reading', true),
    ],
    rows: path.bench.map((row) => {
      const limits = row.tolerances[0]
      const limit = (speed: Speed | undefined) => (speed === undefined ? '' : trimmed(speed[own.key], 1))
      return [
        trimmed(row.speed[own.key], 1),
        trimmed(row.speed[other.key], 1),
        rateOf(row, true),
        figureText(row.shows[own.key], row.shows.plusMinus?.[own.key], 1),
        limits === undefined ? '' : `${limit(limits.lower)}\u{A0}to\u{A0}${limit(limits.upper)}`,
        '',
      ]
    }),
    rowMm: 5,
  }
}

/** Rows of the road test, including at least one blank row for another mark. */
const MIN_ROAD_ROWS = 4
const BLANK_ROW = ['', '', '', '', '', '', '']

function roadTestForm(path: Path): Block[] {
  const [own, other] = SPEED_UNITS[path.unit]
  const course = path.unit === 'mph' ? '1 mile' : '1 km'
  const { marks } = path.roadTest
  const rows = marks.map(({ indicatedToHold, true: expected, time }) => [
    trimmed(indicatedToHold[own.key], 1),
    figureText(expected[own.key], expected.plusMinus?.[own.key], 1),
    figureText(expected[other.key], expected.plusMinus?.[other.key], 1),
    figureText(time.s, time.plusMinus?.s, 1),
    '',
    '',
    '',
  ])
  return [
    {
      kind: 'table',
      caption: `On the road: ${path.name}. Hold an indicated speed and compare with the true speed and the time for ${course}. Time it outbound and return, or use a reference speed (GPS).`,
      columns: [
        right(`Hold at\n${own.name}`),
        right(`True\n${own.name}`),
        right(`True\n${other.name}`),
        right(`${course.replace(' ', '\u{A0}')}\nin s`),
        left('Outbound\nin s', true),
        left('Return\nin s', true),
        left('Reference\nspeed', true),
      ],
      rows: [...rows, ...Array.from({ length: Math.max(1, MIN_ROAD_ROWS - rows.length) }, () => BLANK_ROW)],
      rowMm: 7,
    },
    {
      kind: 'blanks',
      names: ['Tire pressures', 'Odometer at start', 'Odometer at end', 'Weather', 'Date', 'Signature'],
    },
  ]
}

function odometerText({ odometerErrorPercent: error, odometerErrorPlusMinusPercent: uncertainty }: Path) {
  const percent = `${figureText(Math.abs(error), uncertainty, 1)} %`
  if (error === 0) return `error ${percent}`
  return `${error < 0 ? 'under-reads' : 'over-reads'} by ${percent}`
}

function readingFacts(path: Path, rule: string): Fact[] {
  const verdict = path.verdicts[0]
  const facts: Fact[] = [
    {
      name: 'Indicated ÷ true',
      value: figureText(path.indicatedPerTrue.value, path.indicatedPerTrue.plusMinus, 4),
    },
    { name: 'Based on', value: BASES[path.basis] },
    {
      name: 'Odometer',
      value: odometerText(path),
    },
  ]
  if (verdict !== undefined) {
    const at =
      verdict.at === undefined ? ' (odometer)' : ` at a true speed of ${speedText(verdict.at, path.unit)}`
    facts.push({
      name: rule,
      value: `${VERDICTS[verdict.result]}${at}, probability of conformity ${rounded(verdict.probability, 3)}`,
    })
  }
  if (path.dialMax !== undefined)
    facts.push({ name: 'Last mark on the dial', value: speedText(path.dialMax, path.unit) })
  if (path.lowestSpeedShown !== undefined)
    facts.push({ name: 'Lowest speed shown', value: speedText(path.lowestSpeedShown, path.unit) })
  if (path.resolutionAtTopSpeed !== undefined)
    facts.push({ name: 'Resolution at top speed', value: stepText(path.resolutionAtTopSpeed, path.unit) })
  const largest = path.budget[0]
  if (largest !== undefined)
    facts.push({
      name: 'Largest source of uncertainty',
      value: `${largest.input}, ${rounded(largest.sharePercent, 0)} % of the variance`,
    })
  return facts
}

function pathSection(path: Path, rule: string): Section {
  return {
    heading: `Path: ${path.name}`,
    blocks: [
      { kind: 'facts', facts: readingFacts(path, rule) },
      chain(path),
      {
        kind: 'beside',
        leftPercent: 60,
        whole: true,
        left: [speedTable(path)],
        right: [{ kind: 'drawing', svg: path.plot }],
      },
      { kind: 'beside', leftPercent: 40, whole: true, left: [benchTable(path)], right: roadTestForm(path) },
    ],
  }
}

function findings({ findings: found }: WorksheetShape): Section {
  const rows = found.map(({ level, text, remedy }) => [LEVELS[level], text, remedy ?? ''])
  return {
    heading: 'Findings',
    blocks: [
      rows.length === 0
        ? { kind: 'text', text: 'No findings.' }
        : {
            kind: 'table',
            caption: 'Findings, most severe first',
            columns: [left('Level'), left('Finding', true), left('What to do', true)],
            rows,
          },
    ],
  }
}

const costText = ({ cost }: Remedy) =>
  cost === undefined
    ? ''
    : [
        cost.total === undefined ? '' : `total ${trimmed(cost.total, 2)}`,
        cost.price === undefined ? '' : `parts ${trimmed(cost.price, 2)}`,
        cost.minutes === undefined ? '' : `${trimmed(cost.minutes, 1)} min`,
      ]
        .filter((text) => text !== '')
        .join(', ')

function remedies({ remedies: found, paths, findings }: WorksheetShape): Section {
  const printed = paths.flatMap(({ name }) =>
    found.filter(({ path }) => path === name).slice(0, MAX_REMEDIES),
  )
  const several = paths.length > 1
  const priced = printed.some(({ cost }) => cost !== undefined)
  const rows = printed.map((remedy) => {
    const verdict = remedy.verdicts[0]
    const cells = [
      ...(several ? [remedy.path] : []),
      [remedy.text, ...(remedy.cautions ?? [])].join(' '),
      `${signed(rounded(remedy.errorPercent, 1))} %`,
      verdict === undefined ? '' : VERDICTS[verdict.result],
      remedy.remains.join(' '),
    ]
    return priced ? [...cells, costText(remedy)] : cells
  })
  const columns = [
    ...(several ? [left('Path')] : []),
    left('What to do', true),
    right('Error\nafterwards'),
    left('Verdict\nafterwards'),
    left('What remains', true),
  ]
  const more = found.length - printed.length
  const blocks: Block[] = [
    rows.length === 0
      ? {
          kind: 'text',
          text: findings.every(({ level }) => level === 'info')
            ? 'No remedy is needed.'
            : 'No remedy is offered; the findings say what to do.',
        }
      : {
          kind: 'table',
          caption: 'What puts it right, best first',
          columns: priced ? [...columns, left('Cost')] : columns,
          rows,
        },
  ]
  if (more > 0)
    blocks.push({
      kind: 'text',
      text: `Further remedies, of lower rank, which only the JSON form lists: ${more}.`,
    })
  return { heading: 'Remedies', blocks }
}

function inputText(input: Input, paths: readonly Path[]): string {
  const { field, what, standing, length, perDistance, ratio, speed, percent, percentPlusMinus } = input
  // The field names the path, as in /paths/0/head/offset: use the unit of its dial.
  const unit = paths[Number(field.split('/')[2])]?.unit ?? 'kmh'
  const values = [
    length === undefined
      ? ''
      : `${withUnit(figureText(length.mm, length.plusMinus?.mm, 1), 'mm')}, ${withUnit(figureText(length.in, length.plusMinus?.in, 2), 'in')}`,
    perDistance === undefined
      ? ''
      : `${figureText(perDistance.perKm, perDistance.plusMinus?.perKm, 1)}/km, ${figureText(perDistance.perMile, perDistance.plusMinus?.perMile, 1)}/mile`,
    ratio === undefined ? '' : figureText(ratio.value, ratio.plusMinus, 4),
    speed === undefined ? '' : speedText(speed, unit),
    percent === undefined ? '' : `${figureText(percent, percentPlusMinus, 2)} %`,
  ].filter((text) => text !== '')
  return `${what}: ${values.join(', ')} (${STANDINGS[standing]})`
}

function basis({ measured, assumed, paths }: WorksheetShape): Section {
  const list = (inputs: readonly Input[], none: string): Block =>
    inputs.length === 0
      ? { kind: 'text', text: none }
      : { kind: 'list', items: inputs.map((input) => inputText(input, paths)), small: true }
  return {
    heading: 'Basis',
    blocks: [
      {
        kind: 'beside',
        leftPercent: 50,
        whole: false,
        left: [{ kind: 'text', text: 'Measured on this vehicle' }, list(measured, 'Nothing.')],
        right: [{ kind: 'text', text: 'Assumed' }, list(assumed, 'Nothing.')],
      },
    ],
  }
}

function vehicleFactsOf({ vehicle, rule, paths, revision, date, model }: WorksheetShape): Fact[] {
  const facts: Fact[] = []
  const add = (name: string, value: string | undefined) => {
    if (value !== undefined && value !== '') facts.push({ name, value })
  }
  add('Reference', vehicle.reference)
  add('Make', vehicle.make)
  add('Model', vehicle.model)
  add('Year', vehicle.year === undefined ? undefined : String(vehicle.year))
  add('Top speed', vehicle.topSpeed === undefined ? undefined : speedText(vehicle.topSpeed, paths[0]!.unit))
  add('Rule', `${rule.title} (${rule.id})`)
  add('Date', date)
  add(
    'Revision',
    revision === undefined
      ? 'not saved'
      : `${revision.version} of ${revision.changedAt.slice(0, 10)}, vehicle ${revision.id}`,
  )
  add('Computed by', `wheel-to-dial, model ${model}`)
  return facts
}

/** The page footer has one line. */
const shortened = (text: string) => (text.length > 60 ? `${text.slice(0, 59)}…` : text)

/** A worksheet as a printed sheet: its values as text, in the order of the page. */
export function worksheetSheet(worksheet: WorksheetShape): Sheet {
  const clean = printable(worksheet)
  const { vehicle, rule, paths, notes, references, date, model, revision } = clean
  const sections: Section[] = [
    { heading: 'Vehicle', blocks: [{ kind: 'facts', facts: vehicleFactsOf(clean) }] },
    findings(clean),
    ...paths.map((path) => pathSection(path, rule.title)),
    remedies(clean),
    {
      heading: 'Cautions and notes',
      blocks: [
        {
          kind: 'list',
          items: notes.map(({ level, text }) => `${level === 'caution' ? 'Caution: ' : ''}${text}`),
          small: true,
        },
      ],
    },
    basis(clean),
    {
      heading: 'Sources',
      blocks: [
        {
          kind: 'list',
          items: references.map(({ title, standing }) => `${title} (${STANDINGS[standing]})`),
          small: true,
        },
      ],
    },
  ]
  if (vehicle.notes !== undefined)
    sections.push({ heading: 'Notes on the vehicle', blocks: [{ kind: 'text', text: vehicle.notes }] })
  const version = revision === undefined ? '' : `, revision ${revision.version}`
  return {
    title: vehicle.name,
    subtitle: 'Speedometer worksheet, from wheel to dial',
    foot: `${shortened(vehicle.reference ?? vehicle.name)}${version}, ${date}, model ${model}`,
    date,
    sections,
  }
}
