import { evaluateDrivePath } from '../domain/drive-paths/evaluation.js'
import { solveDrivePath } from '../domain/drive-paths/solution.js'
import { SolutionAnswer, SolutionRequest } from '../schemas/drive-path-solutions.js'
import { EvaluationAnswer, EvaluationRequest } from '../schemas/drive-paths.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'

const tag = 'drive-paths'

export function drivePathRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/drive-paths/evaluation',
    calculation(
      {
        id: 'evaluateDrivePath',
        summary: 'Evaluate a drive path',
        description:
          'From tire, stages and head: turns or pulses at every link, what the dial reads at each true speed with its uncertainty, and the verdict of each rule.',
        tag,
        body: EvaluationRequest,
        answer: EvaluationAnswer,
        compute: evaluateDrivePath,
      },
      sizeTable,
    ),
  )

  app.post(
    '/v1/drive-paths/solution',
    calculation(
      {
        id: 'solveDrivePath',
        weight: SEARCH,
        summary: 'Solve a drive path for its open stages',
        description:
          'Finds gears, adapters or scaler settings that make the head read as aimed: within the aim first, then over-reading, then under-reading.',
        tag,
        body: SolutionRequest,
        answer: SolutionAnswer,
        compute: solveDrivePath,
      },
      sizeTable,
    ),
  )
}
