import { renderToString } from 'preact-render-to-string'
import type { DialScaleShape } from '../schemas/dial-scale.js'
import { wrapped } from './wrapped.js'

type Mark = DialScaleShape['marks'][number]
type Place = Mark['outerEnd']

const INCH_MM = 25.4
const CHECK_MM = 50
const MARGIN_MM = 6
/** Wide enough for both check bars and the lines of text. */
const MIN_WIDTH_MM = 130
const TEXT_MM = 3
const LINE_MM = 4.4
/** Distance from the middle of capitals and digits to their baseline, as a fraction of the font height. */
const HALF_CAPITAL = 0.36

/** Width of the printed line of each kind of mark [mm]. */
const STROKE_MM: Readonly<Record<Mark['kind'], number>> = { numbered: 0.6, major: 0.45, minor: 0.25 }
const THIN_MM = 0.2
const DASH_MM = '2 1.2'

const UNIT_WORDS = { mph: 'mph', kmh: 'km/h' } as const

/** Millimeters as SVG writes them: to a tenth of a micrometer. */
const n = (value: number) => String(Number(value.toFixed(4)))

/** A number with at most two decimals and a typographic minus sign. */
const short = (value: number) => String(Number(value.toFixed(2))).replace('-', '−')

/**
 * Sides of the sheet are whole half inches: 48 pixels of a browser, 36 points of a PDF. Browsers round the size of a drawing to
 * whole pixels and scale its contents by that; 130 mm would print 0.07 % small.
 */
const SHEET_STEP_MM = INCH_MM / 2

const wholeSteps = (lengthMm: number) => Math.ceil(lengthMm / SHEET_STEP_MM) * SHEET_STEP_MM

/** Average width of a letter in a wide line of text, as a fraction of the font height. */
const LETTER = 0.6

/** The outer edges of the drawing around the dial, and the sheet. */
function sheetOf(answer: DialScaleShape) {
  const { scales, face } = answer
  const half = Math.max(scales[0]!.radius.mm, (face.edgeDiameter?.mm ?? 0) / 2) + MARGIN_MM
  const width = wholeSteps(Math.max(2 * half, MIN_WIDTH_MM))
  const maxLetters = Math.floor((width - 2 * MARGIN_MM) / (LETTER * TEXT_MM))
  const lines = instructions(answer).flatMap((text) => wrapped(text, maxLetters))
  const checkTop = half + 4
  return {
    half,
    width,
    lines,
    checkTop,
    height: wholeSteps(half + checkTop + 12 + lines.length * LINE_MM + 2),
  }
}

function instructions({ scales, sweep, direction, method, face }: DialScaleShape): string[] {
  const radii = scales.map(({ unit, radius }) => `${UNIT_WORDS[unit]} scale: radius ${short(radius.mm)} mm`)
  const from = {
    'linear-sweep': 'linear over the sweep, not measured',
    'straight-line': 'straight line through two measured points',
    'monotone-cubic': 'monotone curve through the measured points',
  }[method]
  const cuts = face.edgeDiameter !== undefined || face.holeDiameter !== undefined || face.window !== undefined
  return [
    'Print at 100 %, not fitted to the page. Then measure both bars: if they are off, so is the scale.',
    ...(cuts ? ['Cut along the dashed lines.'] : []),
    radii.join('; '),
    `Sweep ${short(sweep.start.deg)}° to ${short(sweep.end.deg)}°, ${direction} (0° is straight up, 90° is three o’clock); ${from}.`,
    'Check three or more known speeds before driving on the road. A new scale does not correct a wrong drive ratio.',
  ]
}

function Text({ at, size, children }: { at: Place; size: number; children: string }) {
  return (
    <text x={n(at.xMm)} y={n(at.yMm + HALF_CAPITAL * size)} font-size={n(size)} text-anchor="middle">
      {children}
    </text>
  )
}

/** The thin arc through the outer ends of the marks of one scale. */
function Arc({
  marks,
  radiusMm,
  clockwise,
}: {
  marks: readonly Mark[]
  radiusMm: number
  clockwise: boolean
}) {
  const [first, last] = [marks[0]!, marks.at(-1)!]
  const span = Math.abs(last.angle.deg - first.angle.deg)
  if (span > 359.99) return <circle r={n(radiusMm)} />
  const { outerEnd: a } = first
  const { outerEnd: b } = last
  const flags = `${span > 180 ? 1 : 0} ${clockwise ? 1 : 0}`
  return (
    <path d={`M${n(a.xMm)} ${n(a.yMm)}A${n(radiusMm)} ${n(radiusMm)} 0 ${flags} ${n(b.xMm)} ${n(b.yMm)}`} />
  )
}

function Scale({ answer, index }: { answer: DialScaleShape; index: number }) {
  const { unit, radius, fontHeight } = answer.scales[index]!
  const marks = answer.marks.filter((mark) => mark.unit === unit)
  return (
    <g id={`scale-${unit}`}>
      <g stroke-width={THIN_MM}>
        <Arc marks={marks} radiusMm={radius.mm} clockwise={answer.direction === 'clockwise'} />
      </g>
      {(['minor', 'major', 'numbered'] as const).map((kind) => (
        <g stroke-width={STROKE_MM[kind]}>
          {marks
            .filter((mark) => mark.kind === kind)
            .map(({ outerEnd: a, innerEnd: b }) => (
              <line x1={n(a.xMm)} y1={n(a.yMm)} x2={n(b.xMm)} y2={n(b.yMm)} />
            ))}
        </g>
      ))}
      <g fill="black" stroke="none">
        {marks.map(({ label, labelAt }) =>
          label === undefined ? null : (
            <Text at={labelAt!} size={fontHeight.mm}>
              {label}
            </Text>
          ),
        )}
      </g>
    </g>
  )
}

/** Cut lines, dashed to distinguish them from printed lines. The cross marks the center. */
function Cuts({ face }: { face: DialScaleShape['face'] }) {
  const { edgeDiameter, holeDiameter, window } = face
  return (
    <g id="cuts" stroke-width={THIN_MM}>
      <path d="M-2 0H2M0 -2V2" />
      <g stroke-dasharray={DASH_MM}>
        {edgeDiameter === undefined ? null : <circle r={n(edgeDiameter.mm / 2)} />}
        {holeDiameter === undefined ? null : <circle r={n(holeDiameter.mm / 2)} />}
        {window === undefined ? null : (
          <rect
            x={n(window.center.xMm - window.width.mm / 2)}
            y={n(window.center.yMm - window.height.mm / 2)}
            width={n(window.width.mm)}
            height={n(window.height.mm)}
          />
        )}
      </g>
    </g>
  )
}

/** A bar of known length with ticks at its ends: measured on paper, it proves that the print is true to size. */
function CheckBar({ x, y, lengthMm, label }: { x: number; y: number; lengthMm: number; label: string }) {
  return (
    <g>
      <path
        stroke-width={0.3}
        d={`M${n(x)} ${n(y)}h${n(lengthMm)}M${n(x)} ${n(y - 2)}v4M${n(x + lengthMm)} ${n(y - 2)}v4`}
      />
      <g fill="black" stroke="none">
        <Text at={{ xMm: x + lengthMm / 2, yMm: y + 4 }} size={TEXT_MM}>
          {label}
        </Text>
      </g>
    </g>
  )
}

function DialSheet({ answer }: { answer: DialScaleShape }) {
  const { half, width, height, lines, checkTop } = sheetOf(answer)
  const units = answer.scales.map(({ unit }) => UNIT_WORDS[unit]).join(' and ')
  const cautions = answer.notes.filter(({ level }) => level === 'caution').map(({ text }) => text)
  return (
    <svg
      xmlns="http://www.w3.org/2000/svg"
      width={`${n(width)}mm`}
      height={`${n(height)}mm`}
      viewBox={`${n(-width / 2)} ${n(-half)} ${n(width)} ${n(height)}`}
      role="img"
      aria-labelledby="title description"
      font-family="sans-serif"
      fill="none"
      stroke="black"
    >
      <title id="title">{`Speedometer scale, ${units}, true to size`}</title>
      <desc id="description">{`${lines.join(' ')} ${cautions.join(' ')}`}</desc>
      <Cuts face={answer.face} />
      {answer.scales.map((_, index) => (
        <Scale answer={answer} index={index} />
      ))}
      {answer.zeroStop === undefined ? null : (
        <circle
          id="zero-stop"
          cx={n(answer.zeroStop.at.xMm)}
          cy={n(answer.zeroStop.at.yMm)}
          r="0.8"
          stroke-width={THIN_MM}
        />
      )}
      <g id="unit-labels" fill="black" stroke="none">
        {answer.unitLabels.map(({ text, at, fontHeight }) => (
          <Text at={at} size={fontHeight.mm}>
            {text}
          </Text>
        ))}
      </g>
      <g id="check">
        <CheckBar x={-50} y={checkTop} lengthMm={CHECK_MM} label="50 mm" />
        <CheckBar x={18} y={checkTop} lengthMm={INCH_MM} label="1 in" />
      </g>
      <g id="instructions" fill="black" stroke="none" font-size={TEXT_MM}>
        {lines.map((line, i) => (
          <text x={n(-width / 2 + MARGIN_MM)} y={n(checkTop + 12 + i * LINE_MM)}>
            {line}
          </text>
        ))}
      </g>
    </svg>
  )
}

/** The scale as a drawing to size: the origin is the center of the dial, one unit is one millimeter. */
export function dialScaleSvg(answer: DialScaleShape): string {
  return `<?xml version="1.0" encoding="UTF-8"?>\n${renderToString(<DialSheet answer={answer} />)}\n`
}
