import { scaleLinear } from 'd3-scale'
import { area, line } from 'd3-shape'
import { render } from 'preact-render-to-string'
import type { WorksheetContent } from '../schemas/worksheets.js'
import { rounded } from './numbers.js'
import { printableText } from './printable.js'
import { wrapped } from './wrapped.js'

type PathContent = WorksheetContent['paths'][number]
type Point = readonly [number, number]

/** Size of the plot in its own units: it is 400 wide. */
const WIDTH = 400
const PLOT = { left: 62, right: 338, top: 46, bottom: 220 }
const LEGEND_TOP = 270
const LEGEND_ROW = 18
/** Letters in a line of the legend: as many as the wider of the fonts has room for. */
const LEGEND_LETTERS = 46
const FONT = 'DejaVu Sans Condensed, DejaVu Sans, Verdana, sans-serif'
const TEXT = { 'font-family': FONT, 'font-size': 13, fill: '#000' }

/** The points of each curve, from `series` by name. */
function linesOf({ series }: PathContent) {
  const points = (name: string) =>
    (series.find((one) => one.name === name)?.points ?? []) as unknown as Point[]
  return {
    error: points('error'),
    low: points('error, lower end of uncertainty'),
    high: points('error, upper end of uncertainty'),
    lower: points('lower limit of the rule'),
    upper: points('upper limit of the rule'),
  }
}

/** A limit extended to both ends of the band; where the rule sets no limit it follows the edge of the plot. */
function drawnOut(limit: readonly Point[], from: number, to: number, edge: number): Point[] {
  const first = limit[0]
  const last = limit.at(-1)
  if (first === undefined || last === undefined) {
    return [
      [from, edge],
      [to, edge],
    ]
  }
  const before: Point[] =
    first[0] > from
      ? [
          [from, edge],
          [first[0], edge],
        ]
      : []
  const after: Point[] =
    last[0] < to
      ? [
          [last[0], edge],
          [to, edge],
        ]
      : []
  return [...before, ...limit, ...after]
}

/** Scales of a plot and their positions. Both vertical axes show the same range, each in its own unit. */
export function plotScales(path: PathContent) {
  const { error, low, high, lower, upper } = linesOf(path)
  const ys = [error, low, high, lower, upper].flatMap((points) => points.map(([, y]) => y))
  const top = Math.max(0, ...ys)
  const bottom = Math.min(0, ...ys)
  const room = top === bottom ? 1 : (top - bottom) * 0.06
  const x = scaleLinear([0, error.at(-1)?.[0] ?? 1], [PLOT.left, PLOT.right])
  const y = scaleLinear([bottom - (bottom < 0 ? room : room / 2), top + room], [PLOT.bottom, PLOT.top])
  return { x, y }
}

type Scale = ReturnType<typeof plotScales>['x']

/** A coordinate rounded to a thousandth of a unit, which is finer than any printer. */
const drawn = (length: number) => Math.round(length * 1000) / 1000

/** The same scale in the other unit of speed. */
const other = (scale: Scale, factor: number) =>
  scale.copy().domain(scale.domain().map((value) => value * factor))

function ticks(scale: Scale, count: number) {
  const [low = 0, high = 0] = scale.domain()
  // 2500 is written 2.5k: longer numbers would overlap the axis title.
  const large = Math.max(Math.abs(low), Math.abs(high)) >= 1000
  const text = scale.tickFormat(count, large ? '~s' : undefined)
  return scale.ticks(count).map((value) => ({ at: drawn(scale(value)), text: text(value) }))
}

function HorizontalAxis({
  scale,
  at,
  side,
  label,
}: {
  scale: Scale
  at: number
  side: 1 | -1
  label: string
}) {
  return (
    <g {...TEXT}>
      {ticks(scale, 6).map((tick) => (
        <g>
          <line x1={tick.at} x2={tick.at} y1={at} y2={at + side * 4} stroke="#000" stroke-width="0.8" />
          <text x={tick.at} y={at + (side === 1 ? 17 : -7)} text-anchor="middle">
            {tick.text}
          </text>
        </g>
      ))}
      <text x={(PLOT.left + PLOT.right) / 2} y={at + (side === 1 ? 34 : -25)} text-anchor="middle">
        {label}
      </text>
    </g>
  )
}

function VerticalAxis({ scale, at, side, label }: { scale: Scale; at: number; side: 1 | -1; label: string }) {
  const middle = (PLOT.top + PLOT.bottom) / 2
  const labelX = side === 1 ? at + 54 : at - 46
  return (
    <g {...TEXT}>
      {ticks(scale, 6).map((tick) => (
        <g>
          <line x1={at} x2={at + side * 4} y1={tick.at} y2={tick.at} stroke="#000" stroke-width="0.8" />
          <text x={at + side * 7} y={drawn(tick.at + 4)} text-anchor={side === 1 ? 'start' : 'end'}>
            {tick.text}
          </text>
        </g>
      ))}
      <text x={labelX} y={middle} text-anchor="middle" transform={`rotate(-90 ${labelX} ${middle})`}>
        {label}
      </text>
    </g>
  )
}

/** Hatching for the uncertainty ribbon: visible without color, and the band shows through. */
const HATCH = { width: 5, height: 5, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' } as const

function Hatch({ id }: { id: string }) {
  return (
    <pattern id={id} {...HATCH}>
      <line x1="0" x2="0" y1="0" y2="5" stroke="#000" stroke-width="0.9" />
    </pattern>
  )
}

/** What the legend says of the limits of a rule, in its lines. */
const limitsText = (rule: string, limitsAre: PathContent['limitsAre']) =>
  wrapped(
    printableText(`allowed by the rule${limitsAre === 'points' ? ' at these speeds' : ''} (${rule})`),
    LEGEND_LETTERS,
  )

function Legend({
  hatch,
  limits,
  limitsAre,
}: {
  hatch: string
  /** Lines of text; none where no limits are drawn. */
  limits: readonly string[]
  limitsAre: PathContent['limitsAre']
}) {
  const rows = [
    {
      lines: ['error (indicated − true): above 0 over-reads'],
      sample: (y: number) => (
        <g>
          <line x1="10" x2="42" y1={y} y2={y} stroke="#000" stroke-width="2" />
          <circle cx="26" cy={y} r="2.6" fill="#000" />
        </g>
      ),
    },
    {
      lines: ['its uncertainty, 95 %'],
      sample: (y: number) => (
        <rect
          x="10"
          y={y - 5}
          width="32"
          height="10"
          fill={`url(#${hatch})`}
          stroke="#000"
          stroke-width="0.7"
          stroke-dasharray="3 2"
        />
      ),
    },
  ]
  if (limits.length > 0) {
    // The last row: the others have one line each.
    rows.push({
      lines: [...limits],
      sample: (y: number) =>
        limitsAre === 'points' ? (
          <Span x={26} low={y + 5} high={y - 5} />
        ) : (
          <rect x="10" y={y - 5} width="32" height="10" fill="#d8d8d8" stroke="#000" stroke-width="1" />
        ),
    })
  }
  return (
    <g {...TEXT}>
      {rows.map(({ lines, sample }, index) => (
        <g>
          {sample(LEGEND_TOP + index * LEGEND_ROW)}
          {lines.map((text, line) => (
            <text x="50" y={LEGEND_TOP + (index + line) * LEGEND_ROW + 4}>
              {text}
            </text>
          ))}
        </g>
      ))}
    </g>
  )
}

/** The range that a rule allows at one speed. */
function Span({ x, low, high }: { x: number; low: number; high: number }) {
  return (
    <path
      d={`M${x} ${low}V${high}M${x - 5} ${low}h10M${x - 5} ${high}h10`}
      fill="none"
      stroke="#000"
      stroke-width="2"
    />
  )
}

function description(path: PathContent, unit: string): string {
  const { error, low, high, lower, upper } = linesOf(path)
  const first = error[0]
  const last = error.at(-1)
  if (first === undefined || last === undefined) return ''
  const at = (index: number, [x, y]: Point) => {
    const uncertainty = ((high.at(index)?.[1] ?? y) - (low.at(index)?.[1] ?? y)) / 2
    return `${rounded(y, 1)} ${unit} with an uncertainty of ${rounded(uncertainty, 1)} at a true ${rounded(x, 0)} ${unit}`
  }
  const limit = (name: string, points: readonly Point[]) => {
    const end = points.at(-1)
    return end === undefined
      ? ''
      : ` The ${name} limit is ${rounded(end[1], 1)} ${unit} at ${rounded(end[0], 0)} ${unit}.`
  }
  return `The error is ${at(0, first)} and ${at(-1, last)}.${limit('lower', lower)}${limit('upper', upper)} The table lists every value.`
}

/**
 * Error against true speed, with its uncertainty and the range that the rule allows, as an SVG document.
 *
 * It uses presentation attributes only, so that it also displays in a page whose content security policy forbids styles.
 *
 * @param rule - Title of the rule
 * @param index - Index of the path on the worksheet; makes the ids of the drawing unique
 */
export function errorPlot(path: PathContent, rule: string, index: number): string {
  const unit = path.unit === 'mph' ? 'mph' : 'km/h'
  const otherUnit = path.unit === 'mph' ? 'km/h' : 'mph'
  // The table gives each speed in both units.
  const { kmh, mph } = path.table[0]!.true
  const factor = path.unit === 'mph' ? kmh / mph : mph / kmh
  const { error, low, high, lower, upper } = linesOf(path)
  const { x, y } = plotScales(path)
  const id = `plot-${index + 1}`
  const limited = lower.length + upper.length > 0
  const band = limited && path.limitsAre === 'lines'
  const points = limited && path.limitsAre === 'points'
  const limits = limited ? limitsText(rule, path.limitsAre) : []
  const height = LEGEND_TOP + (2 + limits.length) * LEGEND_ROW - 4

  const curve = line<Point>(
    ([v]) => x(v),
    ([, e]) => y(e),
  )
  const ribbon = area<number>()
    .x((place) => x(low[place]![0]))
    .y0((place) => y(low[place]![1]))
    .y1((place) => y(high[place]![1]))
  const [bottomEdge = 0, topEdge = 0] = y.domain()
  const ends = [...lower, ...upper].map(([v]) => v)
  const from = Math.min(...ends)
  const to = Math.max(...ends)
  const bandOutline = band
    ? curve([...drawnOut(lower, from, to, bottomEdge), ...drawnOut(upper, from, to, topEdge).reverse()])
    : null

  return render(
    <svg
      xmlns="http://www.w3.org/2000/svg"
      width={WIDTH}
      height={height}
      viewBox={`0 0 ${WIDTH} ${height}`}
      role="img"
      aria-labelledby={`${id}-title ${id}-desc`}
    >
      <title id={`${id}-title`}>{printableText(`${path.name}: error against true speed`)}</title>
      <desc id={`${id}-desc`}>{description(path, unit)}</desc>
      <defs>
        <Hatch id={`${id}-hatch`} />
      </defs>
      <rect x="0" y="0" width={WIDTH} height={height} fill="#fff" />
      {bandOutline === null ? null : (
        <path id={`${id}-allowed`} d={`${bandOutline}Z`} fill="#d8d8d8" stroke="none" />
      )}
      {y.ticks(6).map((tick) => (
        <line
          x1={PLOT.left}
          x2={PLOT.right}
          y1={drawn(y(tick))}
          y2={drawn(y(tick))}
          stroke={tick === 0 ? '#000' : '#999'}
          stroke-width={tick === 0 ? 1.2 : 0.4}
        />
      ))}
      {band
        ? [lower, upper].map((limit, side) =>
            limit.length === 0 ? null : (
              <path
                id={`${id}-${side === 0 ? 'lower' : 'upper'}`}
                d={curve(limit) ?? ''}
                fill="none"
                stroke="#000"
                stroke-width="1"
              />
            ),
          )
        : null}
      {points
        ? lower.map(([v, e], place) => (
            <Span x={drawn(x(v))} low={drawn(y(e))} high={drawn(y(upper[place]?.[1] ?? topEdge))} />
          ))
        : null}
      <path
        id={`${id}-uncertainty`}
        d={ribbon(low.keys()) ?? ''}
        fill={`url(#${id}-hatch)`}
        stroke="#000"
        stroke-width="0.7"
        stroke-dasharray="3 2"
      />
      <path id={`${id}-error`} d={curve(error) ?? ''} fill="none" stroke="#000" stroke-width="2" />
      {error.slice(1).map(([v, e]) => (
        <circle cx={drawn(x(v))} cy={drawn(y(e))} r="2.6" fill="#000" />
      ))}
      <rect
        x={PLOT.left}
        y={PLOT.top}
        width={PLOT.right - PLOT.left}
        height={PLOT.bottom - PLOT.top}
        fill="none"
        stroke="#000"
        stroke-width="0.8"
      />
      <HorizontalAxis scale={x} at={PLOT.bottom} side={1} label={`true speed [${unit}]`} />
      <HorizontalAxis scale={other(x, factor)} at={PLOT.top} side={-1} label={`true speed [${otherUnit}]`} />
      <VerticalAxis scale={y} at={PLOT.left} side={-1} label={`error [${unit}]`} />
      <VerticalAxis scale={other(y, factor)} at={PLOT.right} side={1} label={`error [${otherUnit}]`} />
      <Legend hatch={`${id}-hatch`} limits={limits} limitsAre={path.limitsAre} />
    </svg>,
  )
}
