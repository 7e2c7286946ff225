// SPDX-License-Identifier: Apache-2.0
// Empty on purpose: carries the precompiled headers that all libraries reuse.
