import type { WorksheetContent, WorksheetShape } from '../schemas/worksheets.js'
import { errorPlot } from './error-plot.js'

/** A worksheet with its plots drawn. */
export function withPlots(content: WorksheetContent): WorksheetShape {
  const paths = content.paths.map((path, index) =>
    Object.assign({}, path, { plot: errorPlot(path, content.rule.title, index) }),
  )
  return Object.assign({}, content, { paths })
}
