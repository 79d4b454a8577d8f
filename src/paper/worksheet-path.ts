import {
  decimalsShowing,
  figureText,
  rounded,
  signed,
  trimmed,
  uncertaintyText,
  valueText,
} from './numbers.js'
import type { Block, Fact, Link, Section } from './sheet.js'
import {
  BASES,
  KINDS,
  left,
  type Path,
  perDistanceText,
  right,
  SPEED_UNITS,
  type Speed,
  speedText,
  stepText,
  VERDICTS,
} from './worksheet-words.js'

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

export function pathSection(path: Path, rule: string): Section {
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
