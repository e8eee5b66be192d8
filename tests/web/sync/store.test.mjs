import { test } from "node:test";
import { memoryStore } from "../../support/js/memory-store.mjs";
import { storeContract } from "../../support/js/store-contract.mjs";

storeContract(memoryStore, test);
