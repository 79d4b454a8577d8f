import { testOperations } from '../../support/operation-suite.js'

testOperations('vehicles')
