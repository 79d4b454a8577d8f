import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox'
import Fastify, { type FastifyBaseLogger, LogController } from 'fastify'
import type { Config } from './config.js'
import type { Clock, Store } from './db/store.js'
import { Cursors } from './http/cursors.js'
import { registerAccess } from './plugins/access.js'
import { registerBatches } from './plugins/batches.js'
import { registerBodyBytes } from './plugins/body-bytes.js'
import { registerBodyLimits } from './plugins/body-limits.js'
import { registerCacheRefresh } from './plugins/cache-refresh.js'
import { corsHeaders, registerCors } from './plugins/cors.js'
import { registerErrorResponses } from './plugins/error-responses.js'
import { HttpConnector } from './plugins/http-connector.js'
import { registerIdempotency } from './plugins/idempotency.js'
import { registerLazyCompile } from './plugins/lazy-compile.js'
import { answerMethodNotAllowed, collectMethods } from './plugins/method-not-allowed.js'
import { Metrics } from './plugins/metrics.js'
import { takeNdjson } from './plugins/ndjson.js'
import { oneAtATime } from './plugins/one-at-a-time.js'
import { registerOpenApi, serveDocument } from './plugins/openapi.js'
import { servePages } from './plugins/pages.js'
import { clientErrorHandler, frameworkErrorHandler, problemOf, registerProblems } from './plugins/problems.js'
import { jsonReader, takeRaw } from './plugins/raw-bodies.js'
import { Readiness } from './plugins/readiness.js'
import { requestIdOf } from './plugins/request-ids.js'
import { registerSerialization } from './plugins/serialization.js'
import { registerStrictJson } from './plugins/strict-json.js'
import { TimeSlicer } from './plugins/time-slicing.js'
import { readQuery, registerUrlDecoding } from './plugins/url-decoding.js'
import { registerValidation, schemaChecks } from './plugins/validation.js'
import { registerWorkerPool } from './plugins/worker-pool.js'
import { NO_PEERS, type Peers } from './processes/peers.js'
import { cableBenchRoutes } from './routes/cable-bench.js'
import { cableDragRoutes } from './routes/cable-drag.js'
import { dialScaleRoutes } from './routes/dial-scale.js'
import { displayRoutes } from './routes/displays.js'
import { drivePathRoutes } from './routes/drive-paths.js'
import { electricsRoutes } from './routes/electrics.js'
import { faultRoutes } from './routes/faults.js'
import { firmwareRoutes } from './routes/firmware.js'
import { fitRoutes } from './routes/fits.js'
import { gaugeCalibrationRoutes } from './routes/gauge-calibration.js'
import { gaugeRoutes } from './routes/gauges.js'
import { gearRoutes } from './routes/gears.js'
import { healthRoutes } from './routes/health.js'
import { motorDriveRoutes } from './routes/motor-drive.js'
import { odometerTrackRoutes } from './routes/odometer-track.js'
import { odometerRoutes } from './routes/odometers.js'
import type { App } from './routes/options.js'
import { partRoutes } from './routes/parts.js'
import { pickUpRoutes } from './routes/pick-ups.js'
import { pulseRoutes } from './routes/pulses.js'
import { referenceRoutes } from './routes/reference.js'
import { savedVehicleCheckRoutes } from './routes/saved-vehicle-checks.js'
import { signalRoutes } from './routes/signals.js'
import { SizeTables } from './routes/tire-size-records.js'
import { tireSizeRoutes } from './routes/tire-sizes.js'
import { tireRoutes } from './routes/tires.js'
import { vehicleBatchRoutes } from './routes/vehicle-batches.js'
import { vehicleCalibrationRoutes } from './routes/vehicle-calibrations.js'
import { vehicleCheckRoutes } from './routes/vehicle-checks.js'
import { vehicleFirmwareRoutes } from './routes/vehicle-firmware.js'
import { vehicleRevisionRoutes } from './routes/vehicle-revisions.js'
import { vehicleRoutes } from './routes/vehicles.js'
import { worksheetRoutes } from './routes/worksheets.js'
import { VERSION } from './version.js'

export interface AppParts {
  readonly config: Config
  /** The store; the application does not close it. */
  readonly store: Store
  readonly clock: Clock
  /** Left out: nothing is logged. */
  readonly logger?: FastifyBaseLogger
  /** The other processes of the service; left out: there are none. */
  readonly peers?: Peers
}

/** Builds the application, ready for `inject` or `listen`: a table of contents of its plugins and routes. */
export async function buildApp({ config, store, clock, logger, peers = NO_PEERS }: AppParts): Promise<App> {
  const headersFor = corsHeaders(config.corsOrigins)
  const connector = new HttpConnector({
    queue: { afterMs: config.shedAfterMs, aboveUtilization: config.shedAbovePercent / 100 },
    corsHeaders: headersFor,
    stallMs: config.answerStallMs,
    requestTimeoutMs: config.requestTimeoutMs,
  })
  const app = Fastify({
    ...(logger === undefined ? { logger: false } : { loggerInstance: logger }),
    // The HTTP connector logs one line per request.
    logController: new LogController({ disableRequestLogging: true, requestIdLogLabel: 'requestId' }),
    genReqId: requestIdOf,
    serverFactory: connector.makeServer,
    bodyLimit: config.bodyLimitBytes,
    requestTimeout: config.requestTimeoutMs,
    // The request timeout is checked at this interval; by default every 30 s.
    http: {
      headersTimeout: config.headersTimeoutMs,
      connectionsCheckingInterval: 500,
      requireHostHeader: false,
    },
    // Requests on open connections are still answered while closing.
    return503OnClosing: false,
    trustProxy: config.trustProxy.length === 0 ? false : [...config.trustProxy],
    routerOptions: { maxParamLength: 200, querystringParser: readQuery },
    frameworkErrors: frameworkErrorHandler(headersFor),
    clientErrorHandler: clientErrorHandler(connector.connections, connector.whenLate),
  }).withTypeProvider<TypeBoxTypeProvider>() as unknown as App

  connector.register(app)
  // First: a route uses the error handler that is set when it is added.
  registerProblems(app)
  await registerCors(app, config.corsOrigins)
  registerUrlDecoding(app)
  const checkOf = schemaChecks(registerLazyCompile(app))
  registerValidation(app, checkOf)
  registerBodyLimits(app, config.bodyLimitBytes)
  registerSerialization(app)
  registerStrictJson(app)
  registerErrorResponses(app)
  await registerOpenApi(app)
  registerAccess(app, {
    store,
    peers,
    ratePerAddress: config.ratePerAddress,
    ratePerKey: config.ratePerKey,
  })
  registerBodyBytes(app, config.bodiesBytes)
  registerIdempotency(app, store)

  const methods = collectMethods(app)
  const sizes = new SizeTables(store.tireSizes)
  await sizes.refresh()
  registerCacheRefresh(app, () => sizes.refresh())
  const slicer = new TimeSlicer()
  const options = {
    sizeTable: sizes.find,
    store,
    clock,
    cursors: new Cursors(await store.instance.cursorSecret()),
    readJson: jsonReader(checkOf),
    runJob: registerWorkerPool(app, config.workers),
    takeRaw,
    oneOfCaller: oneAtATime(),
    nextSlice: () => slicer.next(),
  }
  const limits = { ...config.batches, wasBlockedWithin: connector.queue.wasBlockedWithin }
  const batches = {
    answerBatch: registerBatches(app, limits, slicer),
    takeLines: (scope: App) => takeNdjson(scope, limits),
    problemOf,
  }
  vehicleCheckRoutes(app, options)
  await vehicleBatchRoutes(app, options, batches)
  tireRoutes(app, options)
  drivePathRoutes(app, options)
  gaugeRoutes(app, options)
  gaugeCalibrationRoutes(app)
  dialScaleRoutes(app)
  motorDriveRoutes(app)
  displayRoutes(app)
  cableBenchRoutes(app, options)
  odometerRoutes(app, options)
  await odometerTrackRoutes(app, options)
  pulseRoutes(app, options)
  await signalRoutes(app, options)
  vehicleRoutes(app, options)
  savedVehicleCheckRoutes(app, options, batches)
  vehicleRevisionRoutes(app, options)
  pickUpRoutes(app, options)
  electricsRoutes(app, options)
  gearRoutes(app, options)
  cableDragRoutes(app)
  faultRoutes(app)
  await partRoutes(app, options)
  await fitRoutes(app, options)
  await tireSizeRoutes(app, options)
  firmwareRoutes(app, options)
  vehicleCalibrationRoutes(app, options)
  vehicleFirmwareRoutes(app, options)
  worksheetRoutes(app, options)
  referenceRoutes(app)
  serveDocument(app)
  servePages(app, config.frameAncestors)
  const readiness = new Readiness(store.health, clock)
  const metrics = new Metrics(connector, store.health, app.server, peers)
  healthRoutes(app, {
    version: VERSION,
    readiness: () => readiness.checks(),
    metrics: () => metrics.text(),
    metricsFor: config.metrics,
  })
  app.decorate('startDraining', () => readiness.startDraining())
  app.decorate('openRequests', connector.answers.requests)
  app.decorate('endConnections', () => connector.draining.endConnections(app.server))
  answerMethodNotAllowed(app, methods)
  return app
}
